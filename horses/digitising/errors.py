"""What is said when a photo cannot be read."""


class TracingError(ValueError):
    """A photo or its marks cannot be used; `mark` names what to look at again."""

    def __init__(self, words: str, mark: str = "") -> None:
        super().__init__(words)
        self.mark = mark
