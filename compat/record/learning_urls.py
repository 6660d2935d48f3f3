"""Addresses of what records teach; each belongs to the owner of a ship or berth."""

from django.urls import path

from compat.record import learning_views

urlpatterns = [
    path("ships/<uuid:public_id>/", learning_views.of_ship, name="learned-vessel"),
    path("ships/<uuid:public_id>/residuals.svg", learning_views.residuals_of_ship, name="learned-vessel-residuals"),
    path("berths/<uuid:public_id>/", learning_views.of_berth, name="learned-berth"),
    path("berths/<uuid:public_id>/residuals.svg", learning_views.residuals_of_berth, name="learned-berth-residuals"),
]
