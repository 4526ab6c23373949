"""Say which REQUIRED checks of Workflow Run Crate a crate fails: `python crate.py CRATE…`; nothing is asked of the web.

Run by the Python of the environment in `requirements.lock` beside this file.
"""

import email.message
import io
import json
import sys
import urllib.request
import urllib.response
from importlib.resources import files

import requests

ADDRESS = "https://w3id.org/ro/crate/1.1/context"
CONTEXT = files("rocrate").joinpath("data/ro-crate.jsonld").read_bytes()
assert json.loads(CONTEXT)["@id"] == ADDRESS


class Shelf(urllib.request.BaseHandler):
    """Answer every request from this disk."""

    def https_open(self, request):
        """Return the context, or that there is no such thing."""
        found = request.full_url == ADDRESS
        head = email.message.Message()
        head["Content-Type"] = "application/ld+json"
        body = io.BytesIO(CONTEXT if found else b"")
        made = urllib.response.addinfourl(body, head, request.full_url, 200 if found else 404)
        made.msg = "" if found else "not on this disk"
        return made

    http_open = https_open


def sent(_session, request, **_words):
    """Return the same to who asks with requests."""
    made = requests.Response()
    made.request, made.url = request, request.url
    made.status_code = 200 if request.url == ADDRESS else 404
    made._content = CONTEXT if request.url == ADDRESS else b""
    made.headers["Content-Type"] = "application/ld+json"
    return made


def failed(crate: str) -> list[str]:
    """Return what a crate lacks, a sentence each."""
    from rocrate_validator import models, services

    asked = services.ValidationSettings(
        rocrate_uri=crate,
        profile_identifier="workflow-run-crate",
        requirement_severity=models.Severity.REQUIRED,
        no_cache=True,
    )
    found = services.validate(asked).get_issues()
    return sorted(f"{issue.check.identifier}: {issue.message}" for issue in found)


opener = urllib.request.OpenerDirector()
for handler in (
    Shelf(),
    urllib.request.HTTPErrorProcessor(),
    urllib.request.HTTPDefaultErrorHandler(),
):
    opener.add_handler(handler)
urllib.request.install_opener(opener)
requests.sessions.Session.send = sent
print(json.dumps({crate: failed(crate) for crate in sys.argv[1:]}))
