"""/api/v1/"""

from django.urls import include, path, re_path
from drf_spectacular.views import SpectacularAPIView
from rest_framework.routers import SimpleRouter

from fitting.api.evaluations import EvaluationViewSet
from fitting.api.pairings import PairingViewSet
from fitting.api.tack import PadViewSet, SaddleViewSet, TreeViewSet
from horses.api.horses import HorseViewSet
from horses.api.measurements import MeasurementViewSet
from horses.api.soreness import SorenessCheckViewSet
from practice.api.docs import api_docs
from practice.api.errors import no_such_address
from practice.api.people import ClientViewSet, PlaceViewSet, RiderViewSet
from practice.api.session import TokenView
from practice.api.visits import VisitViewSet

router = SimpleRouter()
router.register("horses", HorseViewSet, "api_horse")
router.register("measurements", MeasurementViewSet, "api_measurement")
router.register("soreness-checks", SorenessCheckViewSet, "api_soreness_check")
router.register("trees", TreeViewSet, "api_tree")
router.register("saddles", SaddleViewSet, "api_saddle")
router.register("pads", PadViewSet, "api_pad")
router.register("pairings", PairingViewSet, "api_pairing")
router.register("evaluations", EvaluationViewSet, "api_evaluation")
router.register("visits", VisitViewSet, "api_visit")
router.register("clients", ClientViewSet, "api_client")
router.register("places", PlaceViewSet, "api_place")
router.register("riders", RiderViewSet, "api_rider")

urlpatterns = [
    path("schema/", SpectacularAPIView.as_view(), name="api_schema"),
    path("docs/", api_docs, name="api_docs"),
    path("token/", TokenView.as_view(), name="api_token"),
    path("", include(router.urls)),
    # Not <path:...>, which leaves out addresses with a line break in them.
    re_path(r"^(?P<rest>[\s\S]*)$", no_such_address, name="api_nowhere"),
]
