"""The sample photos that the package ships."""

from __future__ import annotations

import json
from dataclasses import dataclass
from importlib.resources import files
from importlib.resources.abc import Traversable

from lastwet.gauge import load_gauge
from lastwet.result import Result, Task
from lastwet.service.photos import film, read_photo


@dataclass(frozen=True, slots=True)
class Sample:
    """A sample photo that the package ships, and what it shows; all invented."""

    name: str
    photo: bytes
    task: Task


def samples() -> list[Sample]:
    """Return the sample photos, sorted by name."""
    folder = files("lastwet") / "data" / "photos"
    return [_sample(folder, card.name.removesuffix(".json")) for card in _by_name(folder) if card.name.endswith(".json")]


def read_sample(sample: Sample) -> Result:
    """Read a sample photo."""
    return read_photo(sample.name, sample.task, lambda _: sample.photo)


def _by_name(folder: Traversable) -> list[Traversable]:
    return sorted(folder.iterdir(), key=lambda item: item.name)


def _sample(folder: Traversable, name: str) -> Sample:
    shown = json.loads((folder / f"{name}.json").read_text("utf-8"))
    task = Task(load_gauge(shown["gauge"]), shown["side"], film(shown["coating"], None, 0.0, None))
    return Sample(f"{name}.jpg", (folder / f"{name}.jpg").read_bytes(), task)
