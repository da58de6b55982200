"""What may be typed after `undersong`. Standard library only, so that `--help` starts at once."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from typing import Final, NoReturn

from live import __version__
from live.daemon.command_list import COMMANDS
from live.faces.output import complain
from live.notes.taste import ENDS, SWITCH_WORDS

_KEY_HELP: Final = "for example 'D minor', 'F# dorian', 'Bb major'"
_GROOVE_HELP: Final = "drums to lock to: a name, rows of steps, or a MIDI file to learn them from"
_CONFIG_HELP: Final = "settings file (TOML)"
_CHORDS_HELP: Final = "Roman numerals or chord symbols: 'i VI iv v', 'Dm:2 Bb:1 C:1'"


class Parser(argparse.ArgumentParser):
    """A parser that answers a mistake with one line instead of a page."""

    def error(self, message: str) -> NoReturn:
        """Print one line on standard error and leave with 2."""
        complain(f"{message} (see '{self.prog} --help')")
        sys.exit(2)


_PLAIN: Final = "live.faces.start:run_plain"


def read_words(argv: Sequence[str] | None) -> argparse.Namespace:
    """What was typed (None: the process's own words). SystemExit after help or a mistake."""
    parser = build_parser()
    args = parser.parse_args(argv)
    if args.run != _PLAIN and (args.plain_config or args.plain_for_s or args.plain_changes):
        parser.error("--config, --for and --set go after the command, where it takes them")
    return args


_Commands = argparse._SubParsersAction  # argparse gives this type no public name


def build_parser() -> Parser:
    """The whole command line. Parsed arguments hold `run`: 'module:function' to call."""
    parser = Parser(
        prog="undersong",
        allow_abbrev=False,
        description="Keeps your playing in key, shows the degree, answers with bass. "
        "Without a command: starts the daemon if none runs and opens the window.",
    )
    parser.add_argument("--version", action="version", version=f"undersong {__version__}")
    parser.set_defaults(run=_PLAIN)
    _starting(parser, "plain_")
    commands = parser.add_subparsers(metavar="COMMAND", parser_class=Parser)
    for add in (_add_daemon, _add_measuring, _add_files, _add_answer, _add_takes, _add_practice):
        add(commands)
    return parser


def _command(commands: _Commands[Parser], name: str, run: str, text: str) -> Parser:
    parser = commands.add_parser(name, help=text, description=text, allow_abbrev=False)
    parser.set_defaults(run=run)
    return parser


def _json(parser: Parser) -> None:
    parser.add_argument("--json", action="store_true", help="print one JSON object")


def _key(parser: Parser, *, required: bool = False) -> None:
    parser.add_argument("--key", required=required, metavar="KEY", help=_KEY_HELP)


def _starting(parser: Parser, prefix: str) -> None:
    """How a daemon is started. A command's own would overwrite ours: hence the prefix."""
    parser.add_argument("--config", dest=f"{prefix}config", metavar="FILE", help=_CONFIG_HELP)
    parser.add_argument(
        "--for", dest=f"{prefix}for_s", metavar="SECONDS", help="stop by itself after this"
    )
    parser.add_argument(
        "--set", dest=f"{prefix}changes", metavar="NAME=VALUE", action="append", default=[],
        help="change one setting, such as time.tempo=172; may be repeated",
    )  # fmt: skip


def _add_daemon(commands: _Commands[Parser]) -> None:
    headless = _command(commands, "headless", "live.faces.start:run_headless", "run without window")
    _starting(headless, "")
    tell = _command(
        commands, "tell", "live.faces.tell_cli:run", "tell the running daemon something"
    )
    tell.formatter_class = argparse.RawDescriptionHelpFormatter
    tell.epilog = "commands:\n" + "\n".join(f"  {n:13}{does}" for n, does in COMMANDS.items())
    tell.add_argument("order", metavar="COMMAND", help="one of the commands below")
    tell.add_argument(  # the default keeps argparse from calling it required
        "values", metavar="ARG", nargs="*", default=[], help="for example: tell key 'D minor'"
    )
    _json(tell)


def _add_measuring(commands: _Commands[Parser]) -> None:
    _json(_command(commands, "ports", "live.faces.ports_cli:run", "MIDI ports, and which are used"))
    check = _command(
        commands, "check", "live.faces.check:run", "measure whether this machine is fit"
    )
    check.add_argument("--seconds", default="10", metavar="N", help="length of each measurement")
    check.add_argument("--picture", metavar="FILE.png", help="draw the histograms too")
    _json(check)


def _add_files(commands: _Commands[Parser]) -> None:
    snap = _command(
        commands, "snap", "live.faces.offline:run_snap", "move a file's notes into a key"
    )
    snap.add_argument("source", metavar="IN.mid")
    snap.add_argument("target", metavar="OUT.mid")
    _key(snap, required=True)
    snap.add_argument(
        "--snap",
        default="nearest",
        metavar="POLICY",
        dest="policy",
        help="nearest, up, down, chord, white, order, mute or off",
    )
    snap.add_argument("--progression", metavar="P", help=_CHORDS_HELP)
    snap.add_argument(
        "--seed",
        default="0",
        metavar="N",
        help="accepted by every command that makes notes; snapping uses no chance",
    )
    _json(snap)
    degrees = _command(
        commands, "degrees", "live.faces.offline:run_degrees", "degree of every note"
    )
    degrees.add_argument("source", metavar="IN.mid")
    _key(degrees)
    _json(degrees)
    key = _command(commands, "key", "live.faces.offline:run_key", "which key a file is in")
    key.add_argument("source", metavar="IN.mid")
    _json(key)
    render = _command(
        commands, "render", "live.faces.render_cli:run", "turn a MIDI file into sound"
    )
    render.add_argument("source", metavar="IN.mid")
    render.add_argument("target", metavar="OUT.wav")
    _json(render)


def _add_answer(commands: _Commands[Parser]) -> None:
    answer = _command(commands, "answer", "live.faces.answer_cli:run", "bass answers to a call")
    answer.add_argument("source", metavar="CALL.mid")
    _key(answer, required=True)
    answer.add_argument("--progression", metavar="P", help=_CHORDS_HELP + "; else inferred")
    answer.add_argument("--bars", metavar="N", help="bars of answer, else as many as the call")
    answer.add_argument("--choices", default="3", metavar="N", help="how many answers, best first")
    answer.add_argument("--seed", default="0", metavar="N", help="same seed, same notes")
    answer.add_argument("--groove", metavar="G", help=_GROOVE_HELP)
    answer.add_argument("--range", metavar="LOW:HIGH", help="for example E1:G3 or 28:55 (C4 = 60)")
    answer.add_argument("--out", metavar="DIR", help="write one MIDI file per answer here")
    answer.add_argument("--drums", action="store_true", help="the groove too, in those files")
    for dial, (least, most) in ENDS.items():
        told = f"0 = {least}, 1 = {most}"
        answer.add_argument(f"--{dial}", metavar="0..1", help=told)
    for switch, words in SWITCH_WORDS.items():
        answer.add_argument(f"--{switch.replace('_', '-')}", action="store_true", help=words)
    _json(answer)


def _add_takes(commands: _Commands[Parser]) -> None:
    takes = _command(commands, "takes", "live.faces.takes_cli:run_list", "what was played so far")
    takes.set_defaults(config=None, json=False)  # without an action: the list
    actions = takes.add_subparsers(metavar="ACTION", parser_class=Parser)
    listing = _command(actions, "list", "live.faces.takes_cli:run_list", "list the takes")
    export = _command(actions, "export", "live.faces.takes_cli:run_export", "takes to MIDI files")
    export.add_argument("ids", metavar="ID", nargs="*", help="'last' or numbers; none = last")
    export.add_argument("--out", default=".", metavar="DIR", help="folder for the files")
    export.add_argument("--drums", action="store_true", help="with the groove as a track")
    bring = _command(actions, "import", "live.faces.takes_cli:run_import", "a MIDI file to a take")
    bring.add_argument("source", metavar="IN.mid")
    for parser in (listing, export, bring):
        parser.add_argument("--config", metavar="FILE", help=_CONFIG_HELP)
        _json(parser)


def _add_practice(commands: _Commands[Parser]) -> None:
    drill = _command(commands, "drill", "live.faces.drill_cli:run", "practise the degrees of a key")
    drill.add_argument("--key", default="D minor", metavar="KEY", help=_KEY_HELP)
    drill.add_argument("--rounds", default="20", metavar="N", help="how many questions")
    drill.add_argument(
        "--seed", metavar="N", help="same seed, same questions, whatever was missed before"
    )
    drill.add_argument("--typed", action="store_true", help="type note names, use no MIDI port")
    _json(drill)
    demo = _command(commands, "demo", "live.faces.demo:run", "the whole job, no device needed")
    demo.add_argument("--out", default="demo-out", metavar="DIR", help="folder for the results")
    demo.add_argument("--realtime", action="store_true", help="play it, at its tempo")
    _json(demo)
