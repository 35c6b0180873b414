"""Swirl and tumble tests of a head: listed, added, shown, compared and discarded."""
