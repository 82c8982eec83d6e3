"""An API client for each of the people at the door."""

import pytest
from django.core.cache import cache
from rest_framework.test import APIClient

from practice.models import User


@pytest.fixture(autouse=True)
def _forget_counted_requests() -> None:
    cache.clear()


def client_of(user: User) -> APIClient:
    client = APIClient()
    client.force_authenticate(user)
    return client


@pytest.fixture
def api(fitter: User) -> APIClient:
    return client_of(fitter)


@pytest.fixture
def helper_api(helper: User) -> APIClient:
    return client_of(helper)


@pytest.fixture
def reader_api(reader: User) -> APIClient:
    return client_of(reader)


@pytest.fixture
def stranger_api(stranger: User) -> APIClient:
    return client_of(stranger)
