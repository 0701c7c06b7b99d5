"""Makes the second renderer reachable: test folders are not on the import path."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def photographs() -> ModuleType:
    name = "endface_photographs"
    if name not in sys.modules:
        path = Path(__file__).with_name("photographs.py")
        spec = importlib.util.spec_from_file_location(name, path)
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]
