"""Addresses of signing in, home, people, units and the trail."""

from django.contrib.auth.views import LogoutView
from django.urls import path

from shared import views

urlpatterns = [
    path("", views.home, name="home"),
    path("sign-in/", views.SignIn.as_view(), name="sign-in"),
    path("sign-out/", LogoutView.as_view(), name="sign-out"),
    path("me/secret/", views.own_secret, name="own-secret"),
    path("me/units/", views.own_units, name="own-units"),
    path("organisation/", views.own_organisation, name="organisation"),
    path("organisation/people/add/", views.person_add, name="person-add"),
    path("organisation/people/<str:username>/", views.person_change, name="person"),
    path("organisation/people/<str:username>/secret/", views.person_secret, name="person-secret"),
    path("organisation/people/<str:username>/deactivate/", views.person_deactivate, name="person-deactivate"),
    path("organisation/people/<str:username>/reactivate/", views.person_reactivate, name="person-reactivate"),
    path("organisations/", views.organisation_list, name="organisation-list"),
    path("organisations/add/", views.organisation_add, name="organisation-add"),
    path("trail/", views.trail_page, name="trail"),
]
