"""Check that the layers made by a step have exactly the columns of the data contract.

Steps store texts as codes and values; the writers add the text columns.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from leakgeo.errors import ContractError
from leakgeo.job.schema import load_schemas
from leakgeo.wording.layers import texts_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    import pandas as pd

    from leakgeo.registry import Step

#: Column added by the writers, not by a step.
WRITTEN = "run_id"


def check_columns(step: Step, layers: Mapping[str, pd.DataFrame], missing: Iterable[Step]) -> None:
    """Raise ContractError if the layers of a step differ from their schemas.

    Parameters
    ----------
    step : Step
    layers : mapping of str to pandas.DataFrame
        Layers after the step. A layer that is not in the contract may have any columns.
    missing : iterable of Step
        Steps that have not run yet, and may still add columns.

    Raises
    ------
    ContractError
        If a layer has a column that its schema does not declare; or lacks one, and every step that
        makes or changes the layer has run, or no later step is declared to fill it in.
    """
    schemas = load_schemas("output")
    waits = {name for other in missing for name in (*other.makes, *other.changes)}
    for name in (*step.makes, *step.changes):
        if name not in layers or name not in schemas:
            continue
        shape = getattr(layers[name], "_geometry_column_name", None)
        made = [c for c in layers[name] if c != shape]
        if more := [c for c in made if c not in schemas[name].columns]:
            raise ContractError(
                f"{name}.{more[0]}: the step {step.name} makes this column, and "
                f"data_schemas/{name}.json does not declare it. Declare it there."
            )
        there = {*made, *texts_of(layers[name]), WRITTEN}
        # A layer that later steps change still has what no later step is declared to fill in.
        if name not in waits:
            due = list(schemas[name].columns)
        else:
            own = schemas[name].fields if name in step.makes else ()
            due = [f.name for f in own if not f.filled_in_by]
        less = [column for column in due if column not in there]
        if less:
            raise ContractError(
                f"{name}.{less[0]}: data_schemas/{name}.json declares it, and no step makes "
                f"this column. Make it in the step {step.name}, which makes or fills in {name}; or "
                "name the later step that does as its filledInBy."
            )
