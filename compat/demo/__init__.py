"""The demo scenario: two ship operators, three tankers, two terminals with five berths, an auditor. All invented."""

from compat.demo.cast import LOG_INS as LOG_INS
from compat.demo.cast import SECRET as SECRET
from compat.demo.cast import DemoLogin as DemoLogin
from compat.demo.loading import NotEmptyError as NotEmptyError
from compat.demo.loading import load as load
