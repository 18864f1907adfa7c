"""All wordings: the common sentence of each code, and the variants for those whom other advice helps."""

from calibration.cautions import Caution, NoAnswer, Remark
from measure.wording import cards, lengths, no_answers, photo_and_plane, sources
from measure.wording.terms import Audience, Wording, facts_of

_ROOMS = (photo_and_plane, cards, sources, lengths, no_answers)
COMMON: dict[str, Wording] = {code: text for room in _ROOMS for code, text in room.COMMON.items()}
VARIANTS: dict[tuple[str, Audience], Wording] = {
    (code, audience): text
    for room in _ROOMS
    for audience, texts in room.VARIANTS.items()
    for code, text in texts.items()
}


def worded(remark: Remark, audience: Audience) -> str:
    """Return the sentence of a caution or of a reason why there is no answer.

    Parameters
    ----------
    remark : Remark
        A caution or a reason, whose code is in `COMMON`.
    audience : Audience
        Who reads it, which determines the advice.

    Returns
    -------
    str
    """
    wording = VARIANTS.get((remark.code, audience), COMMON[remark.code])
    facts = facts_of(remark)
    return wording.format_map(facts) if isinstance(wording, str) else wording(facts)


def all_worded(cautions: "tuple[Caution, ...] | list[Caution]", audience: Audience) -> tuple[str, ...]:
    """Return the sentences of several cautions, each once: different numbers may read the same.

    Parameters
    ----------
    cautions : tuple or list of Caution
        As codes with facts.
    audience : Audience
        Who reads them.

    Returns
    -------
    tuple of str
        In the order given.
    """
    return tuple(dict.fromkeys(worded(one, audience) for one in cautions))


def reason_worded(why: NoAnswer | None, audience: Audience) -> str | None:
    """Return why there is no answer, or None where there is one.

    Parameters
    ----------
    why : NoAnswer or None
        None where there is an answer.
    audience : Audience
        Who reads it.

    Returns
    -------
    str or None
    """
    return None if why is None else worded(why, audience)
