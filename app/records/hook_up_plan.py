from typing import Any

from sqlalchemy import JSON
from sqlmodel import Field, SQLModel


class HookUpPlan(SQLModel, table=True):
    """How a pass was plugged in and at what levels it ran, as the documents that `trade/hook_up_plan.py` and
    `trade/level_inputs.py` write. They name gear by its id, so a plan stays readable when a piece has left the chain."""

    __tablename__ = "hook_up_plan"

    pass_id: int = Field(foreign_key="pass.id", ondelete="CASCADE", primary_key=True)
    plan: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
    levels: dict[str, Any] = Field(default_factory=dict, sa_type=JSON)
