"""Calibrated weights as a further version of the file of weights; the file they came from stays as it was."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import yaml

from bank.audit.calibration import CalibratedWeight, Calibration
from bank.difficulty import Weights, load_weights
from bank.errors import BadInput, Place, Problem
from bank.files import replacing

_LONGEST = 950
"""Characters of a source in the file."""


class _Plain(str):
    """A number, written without quotes."""


class _Dumper(yaml.SafeDumper):
    """Writes `_Plain` as it is."""


_Dumper.add_representer(_Plain, lambda dumper, number: dumper.represent_scalar("tag:yaml.org,2002:float", str(number)))


def write_weights(path: Path, weights: Weights, found: Calibration, today: str, simulated: bool) -> int:
    """Write the weights of *found* as the version after that of *weights* to *path*, and return its number.

    Weights that no answered item carries stay as they are. Means and standard deviations are kept, not how the errors
    of two weights go together.

    Raises:
        BadInput: something stands at *path* already (``weights-in-place``): a version is never written over; or the
            file cannot be written.
    """
    if path.exists():
        raise BadInput(Problem(
            "weights-in-place", Place(str(path)), "",
            "a file stands here already; a version of weights is never written over",
            "name a new file after --calibrate",
        ))
    version = weights.version + 1
    text = yaml.dump(
        _content(weights, found, today, simulated, version), Dumper=_Dumper, sort_keys=False, allow_unicode=True,
        width=118,
    )
    with replacing(path) as part:
        part.write_text("# Weights of difficulty, calibrated from answers. Written by stemwright audit --calibrate.\n"
                        + text, encoding="utf-8")
        load_weights(part)
    return version


def _content(weights: Weights, found: Calibration, today: str, simulated: bool, version: int) -> dict[str, Any]:
    by_name = {one.name: one for one in found.weights}
    kind = "simulated answers" if simulated else "answers"
    history = (
        f"Version {version}, {today}: calibrated from {kind} to {found.items} items of {found.families} templates in"
        f" {found.forms} forms; error leaving one template out {_told(found.error)} logits"
        f" (before {_told(found.prior_error)})."
        f" {weights.history}"
    )
    spread, *parts = weights.parts
    return {
        "version": version, "history": history[:3900],
        "class": {"words": weights.class_words, "level": _number(weights.level), "source": weights.class_source},
        "interval": {
            "quantile": _Plain("1.282"), "quantile_source": "90 % point of the normal distribution (tables).",
            "explained_share": _Plain("0.0"),
            "explained_source": "The spread below is what is left after the features.",
            "spread_of_items": _number(round(1000 * found.item_sd)),
            "spread_source": f"Restricted maximum likelihood from {found.items} items ({kind}); version"
                             f" {weights.version} had {_number(spread.deviation)}.",
            "parts": [{"what": part.what, "kind": part.kind, "sd": _number(part.deviation), "source": part.source}
                      for part in parts],
        },
        "bands": {"easier_below": _number(weights.easier_below), "harder_from": _number(weights.harder_from),
                  "reason": weights.bands_reason},
        **_saturation(weights),
        "weights": [_weight(one, by_name.get(f"{one.operation}.{one.feature}"), kind, version, weights.version)
                    for one in weights.weights],
        "unweighted": {
            "reason": "As in version 1.", "sd": _number(weights.unknown_deviation),
            "features": [name for name in weights.unweighted if name not in weights.unknown],
            "unknown": list(weights.unknown),
        },
    }


def _saturation(weights: Weights) -> dict[str, Any]:
    if not weights.most_beyond:
        return {}
    return {"saturation": {
        "from": _number(weights.knee), "most": _number(weights.most_beyond), "source": weights.saturation_source,
    }}


def _weight(one: Any, found: CalibratedWeight | None, kind: str, version: int, older: int) -> dict[str, Any]:
    if found is None:
        return {"operation": one.operation, "feature": one.feature, "value": _number(one.value),
                "sure": "guess" if one.is_guess else _number(one.deviation), "evidence": one.evidence,
                "source": one.source}
    source = (
        f"Version {version}: posterior from {kind} to {found.items} items of {found.families} templates. Version"
        f" {older}: {_number(one.value)} (SD {_number(one.deviation)}). {one.source}"
    )
    return {"operation": one.operation, "feature": one.feature, "value": _number(round(1000 * found.mean)),
            "sure": _number(max(1, round(1000 * found.sd))), "evidence": "answers", "source": source[:_LONGEST]}


def _number(thousandths: int) -> _Plain:
    sign = "-" if thousandths < 0 else ""
    return _Plain(f"{sign}{abs(thousandths) // 1000}.{abs(thousandths) % 1000:03}")


def _told(value: float | None) -> str:
    return "unknown" if value is None else f"{value:.2f}"
