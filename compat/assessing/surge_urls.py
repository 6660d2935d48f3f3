"""Addresses of surge and start-up."""

from django.urls import path

from compat.assessing import surge_views

urlpatterns = [
    path("<uuid:public_id>/surge/", surge_views.surge, name="assessment-surge"),
    path("<uuid:public_id>/surge/closing/<slug:valve>/", surge_views.closing, name="assessment-surge-closing"),
    path("<uuid:public_id>/surge/envelope.svg", surge_views.envelope, name="assessment-surge-envelope"),
    path("<uuid:public_id>/surge/pressures.svg", surge_views.pressures, name="assessment-surge-pressures"),
]
