"""Probabilities in percent, for people."""


def percent(probability: float, *, decimals: int | None = None) -> str:
    """Return a probability for display; never 0 or 100 %, which would claim certainty.

    Parameters
    ----------
    probability : float
        From 0 to 1.
    decimals : int, optional
        0 or 1; by default whole numbers between 1 % and 99 %, and one decimal beyond.

    Returns
    -------
    str
        In percent; what would be rounded to 0 or 100 % is told as a bound.
    """
    least, bounds = (0.005, ("1", "99")) if decimals == 0 else (0.001, ("0.1", "99.9"))
    if probability < least:
        return f"under {bounds[0]} %"
    if probability > 1 - least:
        return f"over {bounds[1]} %"
    if decimals is None:
        decimals = 0 if 0.01 <= probability <= 0.99 else 1
    return f"{100.0 * probability:.{decimals}f} %"
