"""Job schema: the JSON Schema of a job file, by which editors complete and check it as one types.

Made from the forms by pydantic, with what each key means. It sees unknown keys, what is missing and what is of the
wrong type; units, names that lead nowhere and all physics are seen by ``check`` alone.
"""

import json
from pathlib import Path
from typing import Any

from ventcalc.job import job_form, job_form_building, job_keys
from ventcalc.job.job_fields import Form, Leak
from ventcalc.job.repeated import KEYS as REPEATED

FILE_NAME = "ventcalc-job.schema.json"
_COUNT = {"count": {"type": "integer", "minimum": 1}, "then": {"type": "string"}}


def schema() -> dict[str, Any]:
    """The schema (JSON Schema, draft 2020-12)."""
    found = job_form.File.model_json_schema()
    forms = {form.__name__: form for form in _forms()}
    for name, told in {"File": found, **found["$defs"]}.items():
        form = forms[name]
        told["additionalProperties"] = False
        for key, value in told["properties"].items():
            value.pop("title", None)
            value.pop("default", None)
            value["description"] = job_keys.meaning(form, key)
    for table, keys in REPEATED.items():
        told = found["$defs"][table.capitalize()]["properties"]
        told |= {k: {**_COUNT[k], "description": job_keys.meaning(forms[table.capitalize()], k)} for k in keys}
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": "Vent job", **found}


def _forms() -> list[type[Form]]:
    modules = (job_form, job_form_building)
    own = [v for m in modules for v in vars(m).values() if isinstance(v, type) and issubclass(v, Form)]
    return [*own, Leak]


def write(folder: Path) -> Path:
    """Write the schema into a folder; where it lies."""
    path = folder / FILE_NAME
    path.write_text(json.dumps(schema(), indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return path
