"""Reading and writing the records by program: JSON, opened by a token that says for what.

An answer is a frozen dataclass of `shapes`, filled from a row by its `of`; a route names its shape
once, and `schema` and `description` make JSON and OpenAPI 3.1 of that. APIFlask and flask-smorest
were weighed instead. Both would take over `schema`, `description` and the reading of arguments,
some 250 lines, and ask for a marshmallow schema of each shape: some 130 fields written again beside
`of`, in classes that a type checker does not see into. Pages by key, ETags, problems (RFC 9457) and
tokens would stay ours. Pydantic alone could replace most of `schema`, 100 lines, for two compiled
packages more in every shop. What programs post is read by `bodies` in 150 lines, which name the
field at fault; what it means is judged by the services, as for a form.
"""
