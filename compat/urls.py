"""Every address of the site, one list per room."""

from django.urls import include, path

urlpatterns = [
    path("", include("shared.urls")),
]
