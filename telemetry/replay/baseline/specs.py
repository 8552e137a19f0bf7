"""Which strategies a file of agreed readings may name. It may be of others, so it never names code that runs."""

from __future__ import annotations

from pathlib import Path

from telemetry.replay.baseline.file import Agreed

CODE = ".py"


def specs_of(agreed: Agreed, folder: Path) -> tuple[tuple[str, ...], dict[str, str]]:
    """What may be loaded without asking; and name -> file of each strategy that is Python code.

    Code runs only where its user names the file in that very command, or says yes to its path.
    """
    specs: list[str] = []
    code: dict[str, str] = {}
    for name in agreed.strategies:
        spec = str(folder / agreed.files[name]) if name in agreed.files else name
        # A spec may have settings behind a colon.
        if any(part.strip().casefold().endswith(CODE) for part in (spec, spec.rpartition(":")[0])):
            code[name] = spec
        else:
            specs.append(spec)
    return tuple(specs), code
