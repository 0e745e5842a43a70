"""Boards in words, and as plain data: coats, readings, advice, build."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from lastwet.cli import wording
from lastwet.cli.film import advice_json, chance_json, estimate_json
from lastwet.job.board import Measured, paint_json, settings_json
from lastwet.job.state import BoardState, CoatState
from lastwet.words.board import build_lines, coat_lines, gun_words, note_lines, row_lines, settings_words

__all__ = ["build_lines", "coat_lines", "gun_words", "note_lines", "row_lines", "settings_words", "state_json"]


def state_json(state: BoardState) -> dict[str, Any]:
    """Return where a board stands as plain data."""
    board = state.board
    return {
        "board": board.name,
        "job": board.job,
        "work": board.work,
        "coating": board.coating.name,
        "aim_um": board.aim_um,
        "wet_range_um": list(board.coating.wet_range_um),
        "coats": [_coat_json(each) for each in state.coats],
        "build": asdict(state.build) if state.build else None,
        "at_least": asdict(state.at_least) if state.at_least else None,
        "headroom": asdict(state.headroom) if state.headroom else None,
        "wettest_next_um": state.wettest_next_um,
        "recoat": asdict(state.recoat) if state.recoat else None,
        "pot_life_left_s": state.pot_life_left_s,
        "in_a_row": state.in_a_row,
        "dialled_in": state.dialled_in,
        "recalled": {"settings": settings_json(state.recalled.settings), "thinner": state.recalled.thinner} if state.recalled else None,
        "measured_um": wording.rounded(board.measured_um),
        "measured": [_measured_json(each) for each in board.measured],
        "cautions": list(state.cautions),
    }


def _measured_json(measured: Measured) -> dict[str, Any]:
    checks = [asdict(check) for check in measured.checks]
    return {"coats": measured.coats, "readings_um": wording.rounded(measured.readings_um), "checks": checks}


def _coat_json(state: CoatState) -> dict[str, Any]:
    return {
        "coat": state.number,
        "entry": state.coat.entry,
        "applied_at": state.coat.applied_at.isoformat(),
        "settings": settings_json(state.coat.settings),
        "paint": paint_json(state.coat.paint),
        "sanded_um": list(state.coat.sanded_um),
        "spots": [
            {"spot": spot.name, "wet_um": wording.ends(spot.wet), "verdict": spot.verdict, "late": spot.late} for spot in state.spots
        ],
        "estimate": {**estimate_json(state.estimate), **chance_json(state.chance)} if state.estimate else None,
        "advice": advice_json(state.advice) if state.advice else None,
        "transfer": wording.pair(state.transfer),
        "dry_um": wording.ends(state.layer.dry) if state.layer else None,
    }
