"""Case files: what the user wrote, checked and in SI."""

from thermsim.case.case import Case, check_all_options, load_case
from thermsim.case.errors import CaseError, Problem

__all__ = ["Case", "CaseError", "Problem", "check_all_options", "load_case"]
