"""What only the photographer knows: the fewest answers that settle the most frames, a press each."""

from __future__ import annotations

from collections.abc import Mapping

import dash_mantine_components as dmc
from dash import dcc, html
from dash.development.base_component import Component

from dashboards.asked import OpenQuestion
from dashboards.components import Page, download, heading, plate, to_do
from dashboards.desk import Desk
from dashboards.filters import Filters, search_of
from dashboards.words import count_of, percent

__all__ = ["PAGE", "questions_shown"]

_TITLE = "Questions"
_LEAD = "What only you know. Each answer counts for a whole run of frames, from the next audit on."


def _layout(desk: Desk, _filters: Filters, _rest: Mapping[str, str]) -> Component:
    if desk.workspace is None:
        return html.Div([heading(_TITLE), to_do("These pages were opened over tables alone, without a workspace.")])
    return html.Div(
        [
            heading(_TITLE, _LEAD),
            html.Div(questions_shown(desk), id="questions-shown"),
            html.Div(id="answers-said", role="status", className="standing"),
            plate(
                "When you have answered",
                html.Div(
                    [
                        dmc.Button("Audit with the answers, and ask again", id={"kind": "job-start", "what": "audit"}),
                        dmc.Button("Take the last answer back", id={"kind": "answer-undo"}, variant="default"),
                    ],
                    className="buttons",
                ),
                html.Div(id="job-standing", role="status", className="standing"),
                dcc.Interval(id="job-watch", interval=1000),
                note=f"{count_of(len(desk.answers), 'answer')} so far, kept in answers.csv beside the log.",
            ),
        ]
    )


def questions_shown(desk: Desk) -> Component:
    """Return the questions with a button for each choice."""
    if not desk.questions:
        return plate("Nothing is asked", html.P("All is settled, or nothing was asked yet: audit and ask below."))
    asked = html.Div([_question(question) for question in desk.questions], className="plates")
    return html.Div([asked, html.Div(download("questions", Filters()), className="under")])


def _question(question: OpenQuestion) -> Component:
    day = question.first.date()
    look = dcc.Link("Look at that day", href=f"/worth-a-look{search_of(Filters(since=day, until=day))}")
    if question.answered:
        below: Component = html.P([html.Strong("Answered: "), question.answered])
    else:
        named = [_button(question, one.number, f"{one.words} ({percent(one.chance)})") for one in question.choices]
        below = html.Div([*named, _button(question, 0, "None of the kit's lenses")], className="buttons")
    return plate(f"Question {question.number}", html.P(question.sentence), below, html.P(look))


def _button(question: OpenQuestion, choice: int, words: str) -> Component:
    first = question.first.isoformat()
    button: Component = dmc.Button(
        words,
        id={"kind": "answer", "question": question.number, "choice": choice, "first": first},
        variant="default",
    )
    return button


PAGE = Page(path="/questions", name=_TITLE, layout=_layout)
