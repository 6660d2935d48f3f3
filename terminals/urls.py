"""Addresses of this room."""

from django.urls import path

from terminals import sheet_views, terminal_views, views

urlpatterns = [
    path("", views.berth_list, name="berth-list"),
    path("archived/", views.archived_list, name="berth-archived-list"),
    path("terminals/", terminal_views.terminal_list, name="terminal-list"),
    path("terminals/add/", terminal_views.terminal_add, name="terminal-add"),
    path("terminals/<uuid:public_id>/", terminal_views.terminal_page, name="terminal"),
    path("terminals/<uuid:public_id>/change/", terminal_views.terminal_change, name="terminal-change"),
    path("terminals/<uuid:public_id>/berths/add/", views.berth_add, name="berth-add"),
    path("terminals/<uuid:public_id>/berths/add/file/", views.berth_add_file, name="berth-add-file"),
    path("terminals/<uuid:public_id>/questionnaire/", sheet_views.berths_import, name="berth-import"),
    path(
        "terminals/<uuid:public_id>/questionnaire/<str:filled>.<str:kind>",
        sheet_views.berths_questionnaire,
        name="berth-questionnaire",
    ),
    path("<uuid:public_id>/", views.berth_page, name="berth"),
    path("<uuid:public_id>/name/", views.name_edit, name="berth-name"),
    path("<uuid:public_id>/arms/", views.arms_edit, name="berth-arms"),
    path("<uuid:public_id>/line/", views.line_edit, name="berth-line"),
    path("<uuid:public_id>/ships/", views.berthing_edit, name="berth-berthing"),
    path("<uuid:public_id>/sharing/", views.sharing, name="berth-sharing"),
    path("<uuid:public_id>/archive/", views.berth_archive, name="berth-archive"),
    path("<uuid:public_id>/restore/", views.berth_restore, name="berth-restore"),
    path("<uuid:public_id>/file/", views.berth_upload, name="berth-upload"),
    path("<uuid:public_id>/history/", views.berth_history, name="berth-history"),
    path("<uuid:public_id>/revisions/<int:number>/", views.revision_page, name="berth-revision"),
    path("<uuid:public_id>/revisions/<int:number>/again/", views.revision_again, name="berth-revision-again"),
    path("<uuid:public_id>/revisions/<int:number>/berth.json", views.facts_file, name="berth-facts-file"),
    path("<uuid:public_id>/revisions/<int:number>/profile.svg", views.line_picture, name="berth-line-picture"),
]
