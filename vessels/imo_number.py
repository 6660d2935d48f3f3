"""The check digit of a ship's IMO number (pure). Source: IMO resolution A.1117(30), from memory."""

_WEIGHTS = (7, 6, 5, 4, 3, 2)


def check_digit(six_digits: str) -> int:
    """Return the seventh digit that the first six ask for."""
    return sum(weight * int(digit) for weight, digit in zip(_WEIGHTS, six_digits, strict=True)) % 10


def check_imo_number(text: str) -> None:
    """Raise ValueError with a sentence unless ``text`` is seven digits whose last one is right."""
    if len(text) != 7 or not text.isascii() or not text.isdigit():
        raise ValueError(f"IMO number {text[:20]!r} must be seven digits, as on the ship's registry certificate.")
    check = check_digit(text[:6])
    if check != int(text[6]):
        raise ValueError(f"IMO number {text} has check digit {text[6]}, but its first six digits ask for {check}.")
