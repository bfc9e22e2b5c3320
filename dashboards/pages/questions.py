"""What only the photographer knows: the fewest answers that settle the most frames, a press each."""

from __future__ import annotations

from collections.abc import Mapping

import dash_mantine_components as dmc
import numpy as np
from dash import dcc, html
from dash.development.base_component import Component

from dashboards.asked import OpenQuestion
from dashboards.components import Page, download, heading, plate, to_do
from dashboards.desk import Desk
from dashboards.filters import Filters
from dashboards.run_writes import frames_of_run
from dashboards.thumbnails import key_of
from dashboards.words import count_of, percent

__all__ = ["PAGE", "questions_shown"]

_TITLE = "Questions"
_PICTURES = 3
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
    asked = html.Div([_question(desk, question) for question in desk.questions], className="plates")
    return html.Div([asked, html.Div(download("questions", Filters()), className="under")])


def _question(desk: Desk, question: OpenQuestion) -> Component:
    if question.answered:
        below: Component = html.P([html.Strong("Answered: "), question.answered])
    else:
        named = [_button(question, one.number, f"{one.words} ({percent(one.chance)})") for one in question.choices]
        below = html.Div([*named, _button(question, 0, "None of the kit's lenses")], className="buttons")
    return plate(f"Question {question.number}", html.P(question.sentence), _pictures(desk, question), below)


def _pictures(desk: Desk, question: OpenQuestion) -> Component:
    """Show a few frames of the run, the first and the last among them: that is how one remembers."""
    places = frames_of_run(desk, question.body, question.first, question.last)
    some = np.unique(np.linspace(0, len(places) - 1, min(_PICTURES, len(places))).round().astype(int))
    return html.Ul([html.Li(_picture(desk, int(places[one]))) for one in some], className="strip")


def _picture(desk: Desk, place: int) -> Component:
    key = key_of(desk, place)
    thumb = html.Img(src=f"/picture/small/{key}.webp", alt="Frame of", className="thumb")
    taken = f"{desk.frames['captured_at'].iloc[place]:%H:%M:%S}"
    return dcc.Link([thumb, html.Span(taken)], href=f"/frame?at={key}")


def _button(question: OpenQuestion, choice: int, words: str) -> Component:
    first = question.first.isoformat()
    button: Component = dmc.Button(
        words,
        id={"kind": "answer", "question": question.number, "choice": choice, "first": first},
        variant="default",
    )
    return button


PAGE = Page(path="/questions", name=_TITLE, layout=_layout)
