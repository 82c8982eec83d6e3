"""/horses/ list and edit, /measuring/, /measurements/<measurement>/scans/ and /scans/.

Adding a horse is with the people, the page of one is the horse page.
"""

from django.urls import path

from horses.views import horses, repeatability, scans

urlpatterns = [
    path("horses/", horses.horse_list, name="horse_list"),
    path("horses/<int:pk>/edit/", horses.horse_edit, name="horse_edit"),
    # /measuring/
    path("measuring/", repeatability.study_list, name="study_list"),
    path("measuring/<int:pk>/", repeatability.study_detail, name="study_detail"),
    # /measurements/<measurement>/scans/ and /scans/
    path("measurements/<int:measurement_pk>/scans/add/", scans.scan_add, name="scan_add"),
    path("scans/<int:pk>/", scans.scan_detail, name="scan_detail"),
    path("scans/<int:pk>/status/", scans.scan_status, name="scan_status"),
    path("scans/<int:pk>/marks/", scans.scan_marks, name="scan_marks"),
    path("scans/<int:pk>/use/", scans.scan_use, name="scan_use"),
    path("scans/<int:pk>/file/", scans.scan_file, name="scan_file"),
    path("scans/<int:pk>/remove/", scans.scan_remove, name="scan_remove"),
]
