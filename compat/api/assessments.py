"""Answers to case files and stay files, and assessments that are stored."""

from __future__ import annotations

from dataclasses import asdict
from datetime import datetime
from typing import Any
from uuid import UUID

from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone
from ninja import Router, Schema
from ninja.pagination import paginate
from pydantic import Field

from compat.api.access import TokenAccess, person_of_token, read_only
from compat.api.once import once
from compat.api.schemas import REFUSALS, Made, Pages, Text, document_of, takes
from compat.api.scopes import Scope
from compat.assessing import actions
from compat.assessing.models import Assessment
from compat.assessing.queries import assessments_seen_by, berths_to_assess, ships_to_assess
from compat.assessing.variants import seen_answer
from compat.case.case_file import AgreedFacts, CaseFile, OperationFacts, OwnLimit, Tolerance
from compat.case.composing import Setting
from compat.stay.file import StayFile
from compat.stay.loading import LoadingFile, answer_loading
from compat.stay.variants import document_with_variants
from compat.surge.limiting import held_within_surge, times_within, with_times
from compat.surge.steps import steps_within_surge
from shared.cargo_facts import CargoFacts
from shared.facts import Elevation, Facts, ShortText
from shared.http import get_or_404

router = Router(tags=["assessments"])
writes = TokenAccess(Scope.ASSESSMENTS)


class SettingFacts(Facts):
    """What people choose for one assessment; ship and berth state the rest."""

    title: ShortText
    cargo: CargoFacts
    keel_elevation_m: Elevation
    arms_connected: list[int] = Field(max_length=60, description="arms or hoses in the order of the berth's list")
    operation: OperationFacts
    agreed: AgreedFacts
    own_limits: list[OwnLimit] = Field(default_factory=list, max_length=20)
    tolerances: list[Tolerance] = Field(default_factory=list, max_length=20)

    def setting(self) -> Setting:
        """Return the same as the act takes it."""
        return Setting(
            title=self.title,
            cargo=self.cargo,
            keel_elevation_m=self.keel_elevation_m,
            arms_connected=tuple(self.arms_connected),
            operation=self.operation,
            agreed=self.agreed,
            own_limits=tuple(self.own_limits),
            tolerances=tuple(self.tolerances),
        )


class AssessmentOut(Schema):
    """A stored assessment on the list."""

    id: UUID
    title: str
    made_by: Text
    made_at: datetime

    @staticmethod
    def resolve_id(assessment: Assessment) -> UUID:
        """Return the public name of the assessment."""
        return assessment.public_id


class AssessmentWhole(Schema):
    """A stored assessment with its answer."""

    id: UUID
    title: str
    made_by: str
    made_at: datetime
    answer: dict[str, Any]


@router.post(
    "/answer",
    response={200: dict[str, Any], **REFUSALS},
    auth=read_only,
    summary="Answer a case file",
    openapi_extra=takes(CaseFile),
)
def answer_case_file(request: HttpRequest) -> dict[str, Any]:
    """The answer within surge, as of ``manage.py assess --surge --json``, and its steps; nothing is stored."""
    case = document_of(request, CaseFile)
    within = held_within_surge(case)
    answer = with_times(within, times_within(within, safe=False))
    return answer.document() | {"steps": [asdict(step) for step in steps_within_surge(within)]}


@router.post(
    "/stay",
    response={200: dict[str, Any], **REFUSALS},
    auth=read_only,
    summary="Work out a stay file",
    openapi_extra=takes(StayFile),
)
def answer_stay_file(request: HttpRequest) -> dict[str, Any]:
    """Hours by stage, what gauges read each hour, tanks, water, problems, other plans; nothing is stored."""
    return document_with_variants(document_of(request, StayFile))


@router.post(
    "/loading",
    response={200: dict[str, Any], **REFUSALS},
    auth=read_only,
    summary="Work out a loading file",
    openapi_extra=takes(LoadingFile),
)
def answer_loading_file(request: HttpRequest) -> dict[str, Any]:
    """Steps with their rates, what binds and what ends them, tanks hour by hour, problems; nothing is stored."""
    return answer_loading(document_of(request, LoadingFile)).document()


@router.get("", response={200: list[AssessmentOut], **REFUSALS}, auth=read_only, summary="List assessments")
@paginate(Pages)
def list_assessments(request: HttpRequest, search: str = "") -> QuerySet[Assessment]:
    """Assessments of your organisation, newest first."""
    return assessments_seen_by(person_of_token(request)).filter(title__icontains=search.strip()[:100])


@router.get(
    "/{assessment}",
    response={200: AssessmentWhole, **REFUSALS},
    auth=read_only,
    summary="Read an assessment",
)
def read_assessment(request: HttpRequest, assessment: UUID) -> AssessmentWhole:
    """An assessment with its answer, without the line data that the terminal keeps to itself."""
    person = person_of_token(request)
    row = get_or_404(assessments_seen_by(person), public_id=assessment)
    answer = dict(seen_answer(person, row))
    return AssessmentWhole(
        id=row.public_id, title=row.title, made_by=str(row.made_by), made_at=row.made_at, answer=answer
    )


@router.post(
    "/ships/{ship}/berths/{berth}",
    response={201: Made, **REFUSALS},
    auth=writes,
    summary="Assess a ship at a berth",
    openapi_extra=takes(SettingFacts),
)
@once
def assess(request: HttpRequest, ship: UUID, berth: UUID) -> Made:
    """Assess one of your ships at a berth on the newest data of both, and store the answer."""
    by = person_of_token(request)
    made = actions.make_assessment(
        by=by,
        now=timezone.now(),
        vessel=get_or_404(ships_to_assess(by), public_id=ship),
        berth=get_or_404(berths_to_assess(by), public_id=berth),
        setting=document_of(request, SettingFacts).setting(),
    )
    return Made(id=made.public_id)
