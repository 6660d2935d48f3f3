"""Addresses of this room."""

from django.urls import path

from compat.screening import ask_views, views

_PAIR = "<uuid:public_id>/pairs/<int:ship>/<int:berth>/<int:cargo>/"
urlpatterns = [
    path("", views.screening_list, name="screening-list"),
    path("new/", views.screening_new, name="screening-new"),
    path("<uuid:public_id>/", views.screening, name="screening"),
    path("<uuid:public_id>/progress/", views.progress, name="screening-progress"),
    path("<uuid:public_id>/matrix/", views.matrix, name="screening-matrix"),
    path("<uuid:public_id>/asks/", ask_views.asks, name="screening-asks"),
    path("<uuid:public_id>/asks.csv", ask_views.asks_file, name="screening-asks-csv"),
    path("<uuid:public_id>/changes/", views.changes, name="screening-changes"),
    path("<uuid:public_id>/pairs.csv", views.file, {"kind": "csv"}, name="screening-csv"),
    path("<uuid:public_id>/pairs.xlsx", views.file, {"kind": "xlsx"}, name="screening-xlsx"),
    path("<uuid:public_id>/cancel/", views.cancel, name="screening-cancel"),
    path("<uuid:public_id>/go-on/", views.go_on, name="screening-go-on"),
    path("<uuid:public_id>/again/", views.again, name="screening-again"),
    path("<uuid:public_id>/share/", views.share, name="screening-share"),
    path("<uuid:public_id>/share/<str:username>/end/", views.unshare, name="screening-unshare"),
    path(_PAIR, views.pair, name="screening-pair"),
    path(f"{_PAIR}keep/", views.keep, name="screening-keep"),
]
