"""Writes the settings table as a page for people: `python -m live.daemon.settings_page`."""

from __future__ import annotations

from typing import Final

from live.daemon.cue_table import CUE_FIELDS
from live.daemon.fields import FIELDS
from live.daemon.route_table import ROUTE_FIELDS
from live.daemon.scale_tables import SCALE_FIELDS
from live.daemon.section_table import SECTION_FIELDS
from live.daemon.zone_table import ZONE_FIELDS

SEVERAL: Final = (
    ("Zones", "`[[zone]]` tables; the first that fits a note is used.", ZONE_FIELDS),
    (
        "Routes",
        "`[[route]]` tables; each copies an input to an output as it is (`docs/routing.md`).",
        ROUTE_FIELDS,
    ),
    (
        "Scales of your own",
        "`[[scale]]` tables; a key may name them, as in `D my scale`.",
        SCALE_FIELDS,
    ),
    (
        "The song plan",
        "`[[section]]` tables in the song's order; what one leaves out is as the settings stand.",
        SECTION_FIELDS,
    ),
    (
        "Cues",
        "`[[cue]]` tables; the first that fits a message is used. A cue is never heard.",
        CUE_FIELDS,
    ),
)
"""The tables that may stand several times: title, what they are, their keys."""


def page() -> str:
    """The page in Markdown; `docs/settings.md` is this text (a test compares them)."""
    lines = [
        "# Settings",
        "",
        "Made from the settings table by `python -m live.daemon.settings_page`; do not edit.",
        "",
        "| setting | default | allowed | what it does | while running |",
        "|---|---|---|---|---|",
    ]
    for field in FIELDS:
        live = "yes" if field.is_live else "at the next start"
        default = str(field.default).lower() if field.kind == "switch" else str(field.default)
        shown = f"`{default}`" if default else "empty"
        lines.append(f"| `{field.name}` | {shown} | {field.allowed} | {field.doc} | {live} |")
    for title, intro, fields in SEVERAL:
        lines += ["", f"## {title}", "", intro, "", "| key | allowed |", "|---|---|"]
        lines += [f"| `{name}` | {allowed} |" for name, allowed in fields.items()]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    print(page(), end="")
