"""Addresses of records; each stands under the accord whose transfer it records."""

from django.urls import path

from compat.record import audit_views, closing_views, flow_views, import_views, sheet_views, views

urlpatterns = [
    path("records/", audit_views.record_list, name="record-list"),
    path("<uuid:public_id>/record/exceptions/", audit_views.audit_page, name="record-audit"),
    path("<uuid:public_id>/record/export.zip", audit_views.export, name="record-export"),
    path("<uuid:public_id>/record/", views.record_show, name="record"),
    path("<uuid:public_id>/record/open/", views.record_open, name="record-open"),
    path("<uuid:public_id>/record/arrangement/", views.record_arrange, name="record-arrange"),
    path("<uuid:public_id>/record/accept/", views.record_accept, name="record-accept"),
    path("<uuid:public_id>/record/picture.svg", views.picture, name="record-picture"),
    path("<uuid:public_id>/record/readings/", views.reading_list, name="record-readings"),
    path("<uuid:public_id>/record/readings/new/", views.reading_take, name="record-reading-new"),
    path("<uuid:public_id>/record/readings/import/", import_views.import_readings, name="record-import"),
    path("<uuid:public_id>/record/readings/template.csv", import_views.import_template, name="record-template"),
    path("<uuid:public_id>/record/readings/<int:number>/", views.reading_show, name="record-reading"),
    path("<uuid:public_id>/record/readings/<int:number>/correct/", views.reading_correct, name="record-correct"),
    path("<uuid:public_id>/record/go/", flow_views.go, name="record-go"),
    path("<uuid:public_id>/record/stop/", flow_views.stop, name="record-stop"),
    path("<uuid:public_id>/record/end/", flow_views.end, name="record-end"),
    path("<uuid:public_id>/record/events/new/", flow_views.event, name="record-event"),
    path("<uuid:public_id>/record/events/<int:number>/correct/", flow_views.event_correct, name="record-event-correct"),
    path("<uuid:public_id>/record/performance/", sheet_views.performance_page, name="record-performance"),
    path("<uuid:public_id>/record/protest/", sheet_views.protest, name="record-protest"),
    path("<uuid:public_id>/record/watch/", closing_views.watch, name="record-watch"),
    path("<uuid:public_id>/record/settle/", closing_views.settle, name="record-settle"),
    path("<uuid:public_id>/record/again/", closing_views.reopen, name="record-reopen"),
    path("<uuid:public_id>/record/sign/", closing_views.sign, name="record-sign"),
    path("<uuid:public_id>/record/draft.pdf", closing_views.draft, name="record-draft"),
    path("<uuid:public_id>/record/record.pdf", closing_views.document, name="record-pdf"),
    path("<uuid:public_id>/record/checks/<str:key>/", flow_views.check, name="record-check"),
]
