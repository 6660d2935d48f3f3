"""Every address of the site, one list per room."""

from django.urls import include, path

urlpatterns = [
    path("", include("shared.urls")),
    path("ships/", include("vessels.urls")),
    path("berths/", include("terminals.urls")),
    path("assessments/", include("compat.assessing.urls")),
    path("assessments/", include("compat.assessing.surge_urls")),
    path("accords/", include("compat.accord.urls")),
    path("", include("compat.running.urls")),
]

handler500 = "compat.running.logs.something_went_wrong"
