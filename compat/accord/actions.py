"""Every act on an accord, from opening to signing; pages, commands and the demo call these and nothing below them."""

from compat.accord.answering import answer_item as answer_item
from compat.accord.auditing import end_audit_grant as end_audit_grant
from compat.accord.auditing import grant_audit as grant_audit
from compat.accord.auditing import note_reading as note_reading
from compat.accord.bargaining import accept_value as accept_value
from compat.accord.bargaining import propose_value as propose_value
from compat.accord.bargaining import take_back_proposal as take_back_proposal
from compat.accord.bargaining import work_out_acceptance as work_out_acceptance
from compat.accord.inviting import accept_invitation as accept_invitation
from compat.accord.inviting import end_invitation as end_invitation
from compat.accord.inviting import invite_guest as invite_guest
from compat.accord.inviting import renew_guest_link as renew_guest_link
from compat.accord.opening import open_accord as open_accord
from compat.accord.opening import open_amendment as open_amendment
from compat.accord.opening import rearrange as rearrange
from compat.accord.practice import drop_own_item as drop_own_item
from compat.accord.practice import keep_own_item as keep_own_item
from compat.accord.practice import keep_usual_values as keep_usual_values
from compat.accord.practice import propose_usual_values as propose_usual_values
from compat.accord.settling import settle as settle
from compat.accord.settling import take_back as take_back
from compat.accord.settling import withdraw as withdraw
from compat.accord.signing import sign as sign
from compat.accord.stay_acts import drop_stay as drop_stay
from compat.accord.stay_acts import plan_stay as plan_stay
