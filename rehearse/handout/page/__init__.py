"""The coach's page: one file that shows and plays the routine in any browser and takes remarks."""

from rehearse.handout.page.coach_page import LONGEST_PAGE as LONGEST_PAGE
from rehearse.handout.page.coach_page import make_page as make_page
