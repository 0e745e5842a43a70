// Preview, progress and "send again" for the photo form, which works without this file too.
"use strict";
(() => {
  const form = document.getElementById("dip");
  if (!form) return;
  const said = document.getElementById("said"), bar = document.getElementById("bar"), preview = document.getElementById("preview");
  const send = document.getElementById("send"), fields = [...form.querySelectorAll("input[name=photo]")];
  let busy = false;
  send.hidden = true;

  const say = (text) => { said.textContent = text; };
  const failed = (text) => {
    busy = false;
    bar.hidden = true;
    say(text);
    send.textContent = "Send again";
    send.hidden = false;
  };
  const post = () => {
    if (busy || !fields.some((field) => field.files.length)) return;
    busy = true;
    send.hidden = true;
    const request = new XMLHttpRequest();
    request.open("POST", form.action);
    request.setRequestHeader("Accept", "text/plain");
    request.timeout = 300000;
    bar.hidden = false;
    bar.removeAttribute("value");
    say("Sending the photo.");
    request.upload.onprogress = (event) => { if (event.lengthComputable) bar.value = event.loaded / event.total; };
    request.upload.onload = () => { bar.removeAttribute("value"); say("Reading the gauge."); };
    request.onload = () => {
      if (request.status < 400) location.assign(request.responseURL);
      else failed(request.responseText);
    };
    request.onerror = () => failed("The photo was not sent: the network is gone. It is kept here.");
    request.ontimeout = () => failed("The photo was not sent in time. It is kept here.");
    request.send(new FormData(form));
  };
  for (const field of fields) {
    field.addEventListener("change", () => {
      if (!field.files.length) return;
      for (const other of fields) if (other !== field) other.value = "";
      preview.src = URL.createObjectURL(field.files[0]);
      preview.hidden = false;
      preview.onload = () => URL.revokeObjectURL(preview.src);
      post();
    });
  }
  form.addEventListener("submit", (event) => { event.preventDefault(); post(); });
  addEventListener("pageshow", (event) => { if (event.persisted) { busy = false; bar.hidden = true; say(""); } });
})();
