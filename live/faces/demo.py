"""`undersong demo`: the whole job on the built-in scenario, no device needed."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import Any

from live.faces.ferry_files import write_midi, write_picture, write_sound
from live.faces.ferry_run import Ferry, run_ferry
from live.faces.ferry_text import place, story
from live.faces.output import aside, emit_json, say
from live.faces.songs import write_folder
from live.notes.phrase import Choice
from live.theory.degrees import degree_of

_STEM = "night-ferry"


def run(args: argparse.Namespace) -> int:
    """Run the scenario, tell what happened, write the files; with `--realtime` play it too."""
    folder = write_folder(args.out)
    found = run_ferry()
    if not args.json:
        for line in story(found):
            say(line)
        say()
    if args.realtime:
        from live.faces.ferry_play import play

        play(found.records, aside if args.json else say)
    files = _write(found, folder)
    if args.json:
        emit_json(_as_json(found, files))
    else:
        for path in files:
            say(f"written to {path}")
    return 0


def _write(found: Ferry, folder: Path) -> list[str]:
    midi, sound, picture = (folder / f"{_STEM}.{kind}" for kind in ("mid", "wav", "png"))
    write_midi(found.records, midi)
    write_sound(midi, sound, found.config.answer.groove)
    missing = write_picture(found.snapshot, picture)
    if missing:
        aside(missing)
        return [str(midi), str(sound)]
    return [str(midi), str(sound), str(picture)]


def _as_json(found: Ferry, files: list[str]) -> dict[str, object]:
    config = found.config
    moved: list[dict[str, object]] = []
    for record in found.records:
        if record.kind == "moved":
            detail: dict[str, Any] = json.loads(record.detail)
            sounding = detail["sounding"]
            degree = None if sounding is None else degree_of(sounding, config.key).label()
            moved.append(detail | {"degree": degree, "at": place(record.at_ns, config)})
    answers = [_answer_json(choices[0]) for _, choices in found.rounds]
    head = {"key": config.key.name, "tempo": config.tempo_bpm, "bars": config.form.bars}
    return head | {"moved": moved, "answers": answers, "files": files}


def _answer_json(choice: Choice) -> dict[str, object]:
    facts = {"words": list(choice.words), "reasons": list(choice.reasons)}
    return facts | {"score": choice.score, "notes": len(choice.notes)}
