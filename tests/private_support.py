"""Files that hold a name in any of their bytes."""


def bytes_with(folder, text: str) -> list[str]:
    return [
        path.name
        for path in sorted(folder.iterdir())
        if path.is_file() and text.lower().encode() in path.read_bytes().lower()
    ]
