"""What a reader of weld radiographs may find: numbers and terms of ISO 6520-1 (from memory)."""

from __future__ import annotations

from typing import Final

from ringwright.core.glossary import N_

DEFECTS: Final[dict[str, str]] = {
    "100": N_("crack"),
    "104": N_("crater crack"),
    "2011": N_("gas pore"),
    "2012": N_("uniformly distributed porosity"),
    "2013": N_("clustered porosity"),
    "2014": N_("linear porosity"),
    "2015": N_("elongated cavity"),
    "202": N_("shrinkage cavity"),
    "304": N_("metallic inclusion"),
    "3041": N_("tungsten inclusion"),
    "401": N_("lack of fusion"),
    "402": N_("incomplete penetration"),
    "5011": N_("undercut"),
    "504": N_("excessive penetration"),
    "511": N_("incompletely filled groove"),
    "515": N_("root concavity"),
    "602": N_("spatter"),
}
"""Number to term; a reading names the number, so that words may change."""
