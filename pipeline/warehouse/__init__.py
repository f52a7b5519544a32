"""Raw rows to marts, one SQL file a relation."""

from pipeline.warehouse.database import Warehouse

__all__ = ["Warehouse"]
