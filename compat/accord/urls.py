"""Addresses of accords."""

from django.urls import path

from compat.accord import guest_views, move_views, stay_views, table_views, views

urlpatterns = [
    path("", views.accord_list, name="accord-list"),
    path("new/", views.accord_new, name="accord-new"),
    path("new/assessment/<uuid:assessment>/", views.accord_open, name="accord-open"),
    path("new/like/<uuid:public_id>/", views.accord_open_like, name="accord-open-like"),
    path("<uuid:public_id>/", views.accord_show, name="accord"),
    path("<uuid:public_id>/diagram.svg", views.diagram, name="accord-diagram"),
    path("<uuid:public_id>/profile.svg", views.profile, name="accord-profile"),
    path("<uuid:public_id>/case.json", views.case_file, name="accord-case"),
    path("<uuid:public_id>/draft.pdf", views.draft, name="accord-draft"),
    path("<uuid:public_id>/plan.json", views.plan_data, name="accord-plan-data"),
    path("<uuid:public_id>/plan.pdf", views.plan_document, name="accord-plan-pdf"),
    path("<uuid:public_id>/plan/make-pdf/", views.plan_make_pdf, name="accord-make-pdf"),
    path("<uuid:public_id>/values/<str:key>/", table_views.value_propose, name="accord-propose"),
    path("<uuid:public_id>/values/<str:key>/meaning/", table_views.value_meaning, name="accord-meaning"),
    path("<uuid:public_id>/proposals/<int:number>/accept/", table_views.value_accept, name="accord-accept"),
    path("<uuid:public_id>/proposals/<int:number>/take-back/", table_views.value_take_back, name="accord-take-off"),
    path("<uuid:public_id>/checklist/", table_views.checklist, name="accord-checklist"),
    path("<uuid:public_id>/checklist/<str:key>/", table_views.item_answer, name="accord-item"),
    path("<uuid:public_id>/checklist/<str:key>/row/", table_views.item_show, name="accord-item-row"),
    path("<uuid:public_id>/stay/", stay_views.show, name="accord-stay"),
    path("<uuid:public_id>/stay/plan/", stay_views.plan, name="accord-stay-plan"),
    path("<uuid:public_id>/stay/file/", stay_views.plan_file, name="accord-stay-file"),
    path("<uuid:public_id>/stay/drop/", stay_views.drop, name="accord-stay-drop"),
    path("<uuid:public_id>/settle/", move_views.settle, name="accord-settle"),
    path("<uuid:public_id>/sign/", move_views.sign, name="accord-sign"),
    path("<uuid:public_id>/take-back/", move_views.take_back, name="accord-take-back"),
    path("<uuid:public_id>/withdraw/", move_views.withdraw, name="accord-withdraw"),
    path("<uuid:public_id>/arrangements/", move_views.arrange, name="accord-arrange"),
    path("<uuid:public_id>/amend/", move_views.amend, name="accord-amend"),
    path("<uuid:public_id>/auditors/", move_views.auditor_add, name="accord-auditor-add"),
    path("<uuid:public_id>/auditors/<int:number>/end/", move_views.auditor_end, name="accord-auditor-end"),
    path("<uuid:public_id>/guests/add/", guest_views.guest_add, name="accord-guest-add"),
    path("<uuid:public_id>/guests/<int:number>/link/", guest_views.guest_link, name="accord-guest-link"),
    path("<uuid:public_id>/guests/<int:number>/end/", guest_views.guest_end, name="accord-guest-end"),
    path("guests/<str:token>/", guest_views.guest_accept, name="guest-accept"),
]
