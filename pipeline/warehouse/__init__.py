"""Raw rows to marts, one SQL file a relation."""

from pipeline.warehouse.store import Warehouse

__all__ = ["Warehouse"]
