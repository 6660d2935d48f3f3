"""Will she fit? Checks of a ship at a berth, from facts to a row with value, limit, margin and source (pure)."""
