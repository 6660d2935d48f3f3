"""Addresses of how sure a rate is, and of several grades at the same time."""

from django.urls import path

from compat.assessing import grades_views, sure_views

urlpatterns = [
    path("<uuid:public_id>/sure/", sure_views.sure, name="assessment-sure"),
    path("<uuid:public_id>/sure.svg", sure_views.picture, name="assessment-sure-picture"),
    path("<uuid:public_id>/together/", grades_views.together, name="assessment-together"),
    path("<uuid:public_id>/together.json", grades_views.together_file, name="assessment-together-file"),
]
