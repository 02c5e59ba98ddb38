"""The MusicXML 4.0 schema of the W3C group, as the ``musicxml`` wheel carries it, as a judge.

Its two imports point at the web; they are answered with stubs that know the attributes it names.
"""

from functools import lru_cache
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from lxml import etree  # type: ignore[import-untyped]

STUBS = {
    "xml.xsd": """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
      targetNamespace="http://www.w3.org/XML/1998/namespace">
      <xs:attribute name="lang" type="xs:language"/>
      <xs:attribute name="space" type="xs:NCName"/></xs:schema>""",
    "xlink.xsd": """<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema"
      targetNamespace="http://www.w3.org/1999/xlink">
      <xs:attribute name="href" type="xs:anyURI"/><xs:attribute name="type" type="xs:string"/>
      <xs:attribute name="role" type="xs:string"/><xs:attribute name="title" type="xs:string"/>
      <xs:attribute name="show" type="xs:string"/><xs:attribute name="actuate" type="xs:string"/>
      </xs:schema>""",
}


class Stubs(etree.Resolver):  # type: ignore[misc]
    def resolve(self, url: str | None, public_id: str | None, context: Any) -> Any:
        name = (url or "").rpartition("/")[2]
        return self.resolve_string(STUBS[name], context) if name in STUBS else None


@lru_cache(maxsize=1)
def schema() -> etree.XMLSchema:
    spec = find_spec("musicxml")
    assert spec and spec.origin
    path = Path(spec.origin).parent / "generate_classes" / "musicxml_4_0.xsd"
    parser = etree.XMLParser()
    parser.resolvers.add(Stubs())
    return etree.XMLSchema(etree.parse(str(path), parser))


def schema_errors(text: str) -> list[str]:
    judge = schema()
    parser = etree.XMLParser(load_dtd=False, no_network=True)
    judge.validate(etree.fromstring(text.encode(), parser))
    return [f"{error.line}: {error.message}" for error in judge.error_log]
