"""Addresses of signing in, home, people, units and the trail."""

from django.contrib.auth.views import LogoutView
from django.urls import path

from shared import factor_views, sign_in_views, trail_views, views

urlpatterns = [
    path("", views.home, name="home"),
    path("sign-in/", sign_in_views.SignIn.as_view(), name="sign-in"),
    path("sign-in/second-step/", sign_in_views.second_step, name="second-step"),
    path("sign-in/passkey/", sign_in_views.passkey_sign_in, name="passkey-sign-in"),
    path("sign-in/passkey/question/", sign_in_views.passkey_question, name="passkey-question"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("me/secret/", views.own_secret, name="own-secret"),
    path("me/units/", views.own_units, name="own-units"),
    path("me/notices/", factor_views.own_notices, name="own-notices"),
    path("me/sign-in/", factor_views.own_sign_in, name="own-sign-in"),
    path("me/sign-in/codes/", factor_views.time_code_add, name="time-code-add"),
    path("me/sign-in/codes/remove/", factor_views.time_code_remove, name="time-code-remove"),
    path("me/sign-in/passkeys/add/", factor_views.passkey_add, name="passkey-add"),
    path("me/sign-in/passkeys/question/", factor_views.passkey_new_question, name="passkey-new-question"),
    path("me/sign-in/passkeys/<int:number>/remove/", factor_views.passkey_remove, name="passkey-remove"),
    path("me/sign-in/recovery/", factor_views.recovery_codes, name="recovery-codes"),
    path("organisation/", views.own_organisation, name="organisation"),
    path("organisation/second-factor/", factor_views.second_factor_required, name="second-factor-required"),
    path("organisation/people/add/", views.person_add, name="person-add"),
    path("organisation/people/<str:username>/", views.person_change, name="person"),
    path("organisation/people/<str:username>/secret/", views.person_secret, name="person-secret"),
    path("organisation/people/<str:username>/deactivate/", views.person_deactivate, name="person-deactivate"),
    path("organisation/people/<str:username>/reactivate/", views.person_reactivate, name="person-reactivate"),
    path(
        "organisation/people/<str:username>/second-factor/",
        factor_views.person_reset_factor,
        name="person-reset-factor",
    ),
    path("organisations/", views.organisation_list, name="organisation-list"),
    path("organisations/add/", views.organisation_add, name="organisation-add"),
    path("trail/", trail_views.trail_page, name="trail"),
    path("trail/export.csv", trail_views.export_csv, name="trail-csv"),
    path("trail/export.jsonl", trail_views.export_lines, name="trail-lines"),
]
