"""For whom findings are worded, and what a wording is."""

from collections.abc import Callable, Mapping
from enum import StrEnum
from typing import Any

from calibration.cautions import Remark

Facts = dict[str, Any]
# A text with names of facts in braces, or a function of the facts. A share can be told in percent: the fact
# `seen_share` also goes by the name `seen_percent`.
Wording = str | Callable[[Facts], str]


# What is the matter, and what whoever takes the photo can do about it.
Said = Mapping[StrEnum, tuple[str, str]]


class Audience(StrEnum):
    """Who reads it, and so which advice is of use."""

    COMMAND = "command"  # knows the options
    PAGE = "page"  # sees the photo and the buttons
    BUYER = "buyer"  # reads the write-up


def with_advice(said: Said) -> dict[str, Wording]:
    """Return sentences that say what is the matter, and what to do, for whoever takes the photo."""
    return {code: f"{matter}: {advice}" for code, (matter, advice) in said.items()}


def without_advice(said: Said) -> dict[str, Wording]:
    """Return sentences that say what is the matter only, for whoever can't take the photo again."""
    return {code: f"{matter}." for code, (matter, _) in said.items()}


def facts_of(remark: Remark) -> Facts:
    """Return the facts by name, each share in percent as well."""
    facts: Facts = dict(remark.facts)
    shares = [name for name in facts if name.endswith("share")]
    return facts | {f"{name.removesuffix('share')}percent": 100.0 * facts[name] for name in shares}
