"""Addresses of this room."""

from django.urls import path

from vessels import sheet_views, views

urlpatterns = [
    path("", views.vessel_list, name="vessel-list"),
    path("archived/", views.archived_list, name="vessel-archived-list"),
    path("questionnaire/", sheet_views.ships_import, name="vessel-import"),
    path("questionnaire/<str:filled>.<str:kind>", sheet_views.ships_questionnaire, name="vessel-questionnaire"),
    path("add/", views.vessel_add, name="vessel-add"),
    path("add/file/", views.vessel_add_file, name="vessel-add-file"),
    path("<uuid:public_id>/", views.vessel_page, name="vessel"),
    path("<uuid:public_id>/particulars/", views.particulars_edit, name="vessel-particulars"),
    path("<uuid:public_id>/common-line/", views.common_line_edit, name="vessel-common-line"),
    path("<uuid:public_id>/berths/", views.berthing_edit, name="vessel-berthing"),
    path("<uuid:public_id>/pumps/add/", views.pump_add, name="vessel-pump-add"),
    path("<uuid:public_id>/pumps/<str:key>/", views.pump_edit, name="vessel-pump"),
    path("<uuid:public_id>/pumps/<str:key>/take-off/", views.pump_take_off, name="vessel-pump-take-off"),
    path("<uuid:public_id>/archive/", views.vessel_archive, name="vessel-archive"),
    path("<uuid:public_id>/restore/", views.vessel_restore, name="vessel-restore"),
    path("<uuid:public_id>/file/", views.vessel_upload, name="vessel-upload"),
    path("<uuid:public_id>/history/", views.vessel_history, name="vessel-history"),
    path("<uuid:public_id>/revisions/<int:number>/", views.revision_page, name="vessel-revision"),
    path("<uuid:public_id>/revisions/<int:number>/again/", views.revision_again, name="vessel-revision-again"),
    path("<uuid:public_id>/revisions/<int:number>/ship.json", views.facts_file, name="vessel-facts-file"),
    path(
        "<uuid:public_id>/revisions/<int:number>/pumps/<str:key>/curves.svg",
        views.pump_picture,
        name="vessel-pump-picture",
    ),
]
