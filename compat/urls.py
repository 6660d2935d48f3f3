"""Every address of the site, one list per room."""

from django.urls import include, path

from compat.api.site import addresses

urlpatterns = [
    path("", include("shared.urls")),
    path("ships/", include("vessels.urls")),
    path("berths/", include("terminals.urls")),
    path("assessments/", include("compat.assessing.urls")),
    path("assessments/", include("compat.assessing.surge_urls")),
    path("screenings/", include("compat.screening.urls")),
    path("assessments/", include("compat.assessing.sure_urls")),
    path("accords/", include("compat.accord.urls")),
    path("accords/", include("compat.record.urls")),
    path("learned/", include("compat.record.learning_urls")),
    path("", include("compat.running.urls")),
    path("api/v1/", addresses()),
    path("tokens/", include("compat.api.urls")),
]

handler404 = "compat.api.problems.no_such_address"
handler500 = "compat.running.logs.something_went_wrong"
