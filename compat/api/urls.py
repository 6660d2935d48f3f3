"""Addresses of the pages about tokens."""

from django.urls import path

from compat.api import views

urlpatterns = [
    path("", views.tokens, name="tokens"),
    path("<uuid:token>/revoke/", views.token_revoke, name="token-revoke"),
]
