"""Many ships at many berths with many cargoes: fit and rate side by side, kept, shared and run again."""
