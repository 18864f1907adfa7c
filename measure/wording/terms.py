"""For whom findings are worded, and what a wording is."""

from collections.abc import Callable
from enum import StrEnum
from typing import Any

from calibration.findings import Finding

Facts = dict[str, Any]
# A text with names of facts in braces, or a function of the facts. A share can be told in percent: the fact
# `seen_share` also goes by the name `seen_percent`.
Wording = str | Callable[[Facts], str]


class Audience(StrEnum):
    """Who reads it, and so which advice is of use."""

    COMMAND = "command"  # knows the options
    PAGE = "page"  # sees the photo and the buttons
    BUYER = "buyer"  # reads the write-up


def facts_of(finding: Finding) -> Facts:
    """Return the facts by name, each share in percent as well."""
    facts: Facts = dict(finding.facts)
    shares = [name for name in facts if name.endswith("share")]
    return facts | {f"{name.removesuffix('share')}percent": 100.0 * facts[name] for name in shares}
