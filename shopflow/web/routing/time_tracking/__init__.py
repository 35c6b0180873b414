"""Times: taking a step up, pausing it, putting a stretch of time right."""
