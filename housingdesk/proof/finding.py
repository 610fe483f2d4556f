"""Kept for callers that know it here; see ``housingdesk.finding``."""

from housingdesk.finding import Finding as Finding
from housingdesk.finding import Severity as Severity
from housingdesk.finding import worst_first as worst_first
