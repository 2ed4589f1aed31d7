"""The JSON schema of the site file, for editors that complete and check while one writes."""

from __future__ import annotations

from typing import Any

from runoff.site.document import Document


def site_schema() -> dict[str, Any]:
    """The JSON schema (draft 2020-12) of the site file, made from the models that check it.

    Returns
    -------
    dict

    Examples
    --------
    >>> site_schema()["required"]
    ['site', 'terrain']
    """
    schema = Document.model_json_schema()
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}
