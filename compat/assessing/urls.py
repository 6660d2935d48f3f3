"""Addresses of this room."""

from django.urls import path

from compat.assessing import file_views, stay_file_views, stay_views, views

urlpatterns = [
    path("", views.assessment_list, name="assessment-list"),
    path("new/", views.choose, name="assessment-new"),
    path("new/<uuid:ship>/<uuid:berth>/", views.assess, name="assessment-values"),
    path("new/<uuid:ship>/<uuid:berth>/keel/", views.keel, name="assessment-keel"),
    path("case-file/", file_views.case_upload, name="assessment-case-file"),
    path("stay-file/", stay_file_views.upload, name="stay-file"),
    path("loading/", stay_file_views.loading, name="loading"),
    path("<uuid:public_id>/", views.assessment, name="assessment"),
    path("<uuid:public_id>/steps/", views.steps, name="assessment-steps"),
    path("<uuid:public_id>/stay/", stay_views.stay, name="assessment-stay"),
    path("<uuid:public_id>/stay.json", stay_views.stay_file, name="assessment-stay-file"),
    path("<uuid:public_id>/keep/", views.keep, name="assessment-keep"),
    path("<uuid:public_id>/diagram.svg", views.diagram, name="assessment-diagram"),
    path("<uuid:public_id>/profile.svg", views.profile, name="assessment-profile"),
    path("<uuid:public_id>/case.json", views.case_download, name="assessment-case"),
    path("<uuid:public_id>/answer.json", views.answer_download, name="assessment-answer"),
]
