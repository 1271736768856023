"""lickwright candidates: several licks for one place, truly different, each already in the study."""

from __future__ import annotations

from pathlib import Path

import click

from lickwright.commands.shared import Unusable, echo, read_chorus


@click.command()
@click.argument("study", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--slot", required=True, type=click.IntRange(1), help="The lick's number, as over the tab.")
@click.option("--count", default=6, show_default=True, type=click.IntRange(1, 24), help="How many.")
@click.option(
    "--seed", default=1, show_default=True, type=click.IntRange(0), help="Another seed, other licks."
)
@click.option("--out", type=click.Path(path_type=Path), help="The folder for candidate-1.json and so on.")
@click.option("--replace", is_flag=True, help="Replace the folder if it exists.")
def candidates(study: Path, slot: int, count: int, seed: int, out: Path | None, replace: bool) -> None:
    """Write several licks for one place of a study: far from each other, each fitting what stands around it.

    Each file is the whole study with one of the licks in it, so that compare can show them side by side.

    Example: lickwright candidates first/study.json --slot 2 --count 6 --out six
    """
    from lickwright.compose import choose
    from lickwright.render.outputs import new_folder
    from lickwright.render.tab.together import tab_together
    from lickwright.storage.files import write_whole
    from lickwright.study.excerpt import lick_bars
    from lickwright.study.json_text import to_json
    from lickwright.study.model import SlotKind

    read = read_chorus(study)
    if slot > len(read.slots) or read.slots[slot - 1].kind is not SlotKind.LICK:
        licks = ", ".join(str(s.number + 1) for s in read.slots if s.kind is SlotKind.LICK)
        raise Unusable([f"--slot {slot}: holds no lick; the licks of this study are in slots {licks}"])
    if out is None:
        found = choose.candidates(read, slot - 1, count, seed)
    else:
        with new_folder(out, replace, "candidate-*.json") as folder:
            found = choose.candidates(read, slot - 1, count, seed)
            for n, candidate in enumerate(found, 1):
                write_whole(folder / f"candidate-{n}.json", to_json(candidate.study).encode())
    bars = [lick_bars(c.study, slot - 1) for c in found]
    labels = [f"{n}  {c.distance:.2f} from the one there" for n, c in enumerate(found, 1)]
    first, last = min(a for a, _ in bars), max(b for _, b in bars)
    echo("\n".join(tab_together([c.study for c in found], first, last, labels=labels)))
    if len(found) < count:
        echo(f"{len(found)} of {count}: no more lie far enough apart")
