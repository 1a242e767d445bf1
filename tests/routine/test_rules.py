"""Rule sets against what the federations' own sheets say.

Sources are named in each set and repeated at the rows below: IFBB Book of the Year 2017 p. 9 and
rules section 2 (2016, copy); a promoter's page for IFBB Pro men's bodybuilding (copy); NPC event
pages; an NPC classic event page (copy); the inbfneamerica page; NGA By-Laws § II.2 pp. 39–45;
WFF International; NABBA Australia and NSW; Natural Fit Federation.
"""

from __future__ import annotations

import os

import pytest

from rehearse.files.user_error import UserError, UserErrors
from rehearse.routine.poses import plain
from rehearse.routine.rules import CHECK_YOUR_SHEET, list_rules, load_rules, read_rules


@pytest.mark.parametrize(
    ("key", "limit"),
    [
        ("ifbb-amateur", 60), ("ifbb-pro-mens-bodybuilding", None), ("npc-bodybuilding", 60),
        ("npc-classic", 60), ("wnbf", 60), ("nga-amateur", 60), ("nga-pro", 90),
        ("wff-international", 60), ("nabba-australia", 90), ("nabba-nsw", 60),
        ("nff-womens-physique-amateur", 60), ("nff-womens-physique-pro", 90),
        ("open-60", 60), ("open-90", 90), ("open", None),
    ],
)  # fmt: skip
def test_the_limits_are_those_of_the_sheets(key, limit):
    assert load_rules(key).limit == limit


def test_every_packaged_set_says_where_it_is_from():
    sets = list_rules()
    assert len([r for r in sets if r.body != "none"]) >= 8
    for rules in sets:
        assert all((rules.name, rules.body, rules.event, rules.date, rules.source)), rules.key
        assert rules.note == CHECK_YOUR_SHEET
        assert rules.warning == 10.0  # NPC classic event page (copy): warning at 10 s left


SEVEN = {  # IFBB rules section 2 (2016, copy) and the promoter's page for the professionals
    "front double biceps", "front lat spread", "side chest", "back double biceps",
    "back lat spread", "side triceps", "abdominals and thighs",
}  # fmt: skip


def test_mandatory_poses_are_those_of_the_sheets():
    assert set(load_rules("ifbb-amateur").mandatory) == SEVEN
    assert set(load_rules("ifbb-pro-mens-bodybuilding").mandatory) == SEVEN
    # NPC classic event page (copy); the fifth is the athlete's own choice
    assert set(load_rules("npc-classic").mandatory) == {
        "front double biceps", "side chest", "back double biceps", "abdominals and thighs",
    }  # fmt: skip


def test_a_promoters_page_is_never_told_as_the_bodys_word():
    sets = [r for r in list_rules() if r.body != "none"]
    assert sets
    assert all(r.word_of and r.read for r in sets)
    for rules in sets:
        told = "not the body's own word" in rules.origin
        assert told == (rules.word_of in ("promoter", "affiliate")), rules.key
    assert load_rules("npc-classic").word_of == "promoter"


@pytest.mark.parametrize(
    ("key", "poses", "women"),
    [
        # Bodies' and affiliates' own pages, undated, read 2026-11; NGA By-Laws pp. 38–39.
        ("nff-womens-physique-pro", 5, 5),
        ("nga-pro", 8, 7),
        ("wff-international", 8, 8),
        ("wnbf", 9, 9),
    ],
)
def test_lists_that_bodies_publish_are_there(key, poses, women):
    rules = load_rules(key)
    assert len(rules.mandatory_for("man")) == poses
    assert len(rules.mandatory_for("woman")) == women


def test_props_are_forbidden_where_the_by_laws_say_so():
    # NGA By-Laws pp. 38, 43 and 45 (attire rules); an affiliate's page allows them elsewhere.
    assert "props" in [f.what for f in load_rules("nga-amateur").forbidden]
    assert "props" not in [f.what for f in load_rules("wnbf").forbidden]


def test_every_pose_named_in_a_rule_is_in_the_catalogue(catalogue):
    names = [plain(p.name) for p in catalogue.poses]
    for rules in list_rules():
        also = (*rules.mandatory_men, *rules.men_only, *rules.open_hands)
        for wanted in (*rules.mandatory, *rules.required, *also):
            assert any(n.startswith(plain(wanted)) for n in names), (rules.key, wanted)


def test_forbidden_moves_of_the_professionals():
    # promoter's page (copy): props, gum, lying on the stage, "moon" pose, bumping
    what = " ".join(f.what for f in load_rules("ifbb-pro-mens-bodybuilding").forbidden)
    for word in ("prop", "gum", "lying", "moon", "bumping"):
        assert word in what


OWN = """\
format: 1
name: Club night
limit: 45 s
required: [crucifix]
forbidden:
- what: splits
  words: [splits]
"""


def test_own_sets_are_found_in_the_settings_and_in_the_folder(nobody, tmp_path):
    (nobody / "rules").mkdir()
    (nobody / "rules" / "club.yaml").write_text(OWN)
    assert load_rules("club").limit == 45
    assert load_rules("club").note == CHECK_YOUR_SHEET
    (tmp_path / "rules").mkdir()
    (tmp_path / "rules" / "club.yaml").write_text(OWN.replace("45 s", "50 s"))
    assert load_rules("club", tmp_path).limit == 50
    assert load_rules("club").limit == 45
    assert "club" in [r.key for r in list_rules()]


def test_a_changed_own_set_is_read_again(nobody):
    (nobody / "rules").mkdir()
    path = nobody / "rules" / "club.yaml"
    path.write_text(OWN)
    assert load_rules("club").limit == 45
    path.write_text(OWN.replace("45 s", "46 s"))
    os.utime(path, ns=(1, 1))
    assert load_rules("club").limit == 46


def test_an_unknown_key_guesses_or_names_those_there_are():
    with pytest.raises(UserError, match="There is no rule set called opn-60") as caught:
        load_rules("opn-60")
    assert caught.value.do == "choose open-60"
    with pytest.raises(UserError) as caught:
        load_rules("xyz")
    assert caught.value.do.startswith("choose one of ifbb-amateur, ")
    assert load_rules("").key == "open"


def test_faults_of_an_own_set_come_all_at_once(tmp_path):
    path = tmp_path / "club.yaml"
    path.write_text("format: 1\nnmae: Club\nlimit: 4 counts\nminimum: x\nrequired: crucifix\n"
                    "forbidden:\n- words: [splits]\n")  # fmt: skip
    with pytest.raises(UserErrors) as caught:
        read_rules(path)
    told = {(f.where, f.do) for f in caught.value.errors}
    assert ("club.yaml, line 2", "write name") in told
    assert ("club.yaml, line 3", "write seconds such as 60 s") in told
    assert ("club.yaml, line 5", "write required: [one, another]") in told
    assert ("club.yaml, line 7", "write what: and its value") in told
    path.write_text("format: 2\n")
    with pytest.raises(UserError, match="newer version"):
        read_rules(path)
