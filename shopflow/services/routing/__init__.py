"""A head's steps: planning, doing, measuring, holding, deciding and signing off.

Inspection may go on before approval; metal is cut after it, or where the owner released the step
with a reason. Work found after the approval is extra: no metal is cut on it before it is
approved. A measurement outside its limits stops its head until someone decides; the last
measurement of a place counts, and one taken before the work stops nothing. A hold is a row: the
head stands still until it ends. Time is stretches from a start to a stop, one running per user,
held by an index of the database; a clock that was set back counts nothing and says so.
"""
