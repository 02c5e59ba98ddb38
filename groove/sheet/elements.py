"""Elements of XML, for those who write a score."""

from xml.etree.ElementTree import Element, SubElement


def add(parent: Element, tag: str, content: object = None, /, **attributes: object) -> Element:
    """Add an element with text; an attribute that is None is left out."""
    given = {name: str(value) for name, value in attributes.items() if value is not None}
    child = SubElement(parent, tag, given)
    if content is not None:
        child.text = str(content)
    return child
