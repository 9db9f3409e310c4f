/* punctuation.c - why a text is no YAML, where a sign is missing or one too many.
 *
 * The parser gives up lines after a quote or a bracket that was not closed, and in its own
 * terms. Settings are plainer than YAML allows: a quoted text ends in its line, and what goes
 * on in braces is indented deeper than the line that opens them. So the lines up to there
 * are read again with that in mind. */
#include "punctuation.h"

#include <stdio.h>
#include <string.h>

enum { OPEN_MAX = 2 * TREE_DEPTH_MAX, SHOWN = 30 };

struct bracket {
    int line, column, indent; /* of its line */
    char sign;
    bool colon; /* since the last comma in it */
};

/* A line that begins with a word and has no colon. */
struct bare {
    const char *word; /* NULL: it is none */
    int length, line, column;
};

struct scan {
    struct bracket open[OPEN_MAX];
    int count;
    int line;             /* from 1 */
    int colons;           /* in it, outside of brackets */
    const char *at, *end; /* the line */
    const char *first;    /* in it that is no blank */
    struct bare before, newest;
    struct indent_finding *finding;
};

static bool is_word(char c)
{
    return c != '\0' &&
           strchr("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_-", c);
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '\r';
}

static int word_length(const char *at, const char *end)
{
    const char *c = at;
    while (c < end && is_word(*c))
        c++;
    return c - at < SHOWN ? (int)(c - at) : SHOWN;
}

static const char *skip_blanks(const char *at, const char *end)
{
    while (at < end && is_blank(*at))
        at++;
    return at;
}

static bool found_at(struct scan *scan, int line, int column, const char *text)
{
    scan->finding->line = line;
    scan->finding->column = column;
    snprintf(scan->finding->text, sizeof(scan->finding->text), "%s", text);
    return true;
}

static bool found(struct scan *scan, const char *c, const char *text)
{
    return found_at(scan, scan->line, (int)(c - scan->at) + 1, text);
}

/* ---- quotes ---------------------------------------------------------------------------------- */

/* The quote that closes the one at `c`; NULL: none in this line. */
static const char *closing_quote(const char *c, const char *end)
{
    const char quote = *c++;
    for (; c < end; c++)
        if (quote == '"' && *c == '\\')
            c++;
        else if (*c == quote && quote == '\'' && c + 1 < end && c[1] == quote)
            c++;
        else if (*c == quote)
            return c;
    return NULL;
}

/* What may not follow a closing quote. */
static bool after_quote(struct scan *scan, const char *opening, const char *closing)
{
    const char *next = skip_blanks(closing + 1, scan->end);
    char text[TROUBLE_TEXT_MAX];
    if (next == scan->end || strchr(",]}:", *next) || (*next == '#' && next > closing + 1))
        return false;
    int length = word_length(next, scan->end);
    if (scan->count > 0 && next > closing + 1 && length > 0)
        snprintf(text, sizeof(text), "is a comma missing before \"%.*s\"?", length, next);
    else if (*opening == '\'')
        snprintf(text, sizeof(text),
                 "the single quote opened here ends early: put a text that has an apostrophe "
                 "in double quotes");
    else
        snprintf(text, sizeof(text),
                 "the quote opened here ends early: is one missing, or one too many?");
    return found(scan, scan->count > 0 && next > closing + 1 && length > 0 ? next : opening, text);
}

/* ---- a word without its colon -------------------------------------------------------------- */

static struct bare bare_of(const struct scan *scan)
{
    const char *word = scan->first;
    if (*word == '-' && word + 1 < scan->end && word[1] == ' ')
        word = skip_blanks(word + 1, scan->end);
    int length = word_length(word, scan->end);
    bool colon = length == 0;
    for (const char *c = word; c < scan->end && !strchr("{[#", *c); c++)
        colon |= *c == ':';
    return (struct bare){colon ? NULL : word, length, scan->line, (int)(word - scan->at) + 1};
}

static bool found_bare(struct scan *scan, const struct bare *bare)
{
    char text[TROUBLE_TEXT_MAX];
    if (!bare->word)
        return false;
    snprintf(text, sizeof(text), "is a colon missing after \"%.*s\"?", bare->length, bare->word);
    return found_at(scan, bare->line, bare->column, text);
}

/* ---- brackets -------------------------------------------------------------------------------- */

static bool found_open(struct scan *scan)
{
    const struct bracket *bracket = &scan->open[scan->count - 1];
    char text[TROUBLE_TEXT_MAX];
    snprintf(text, sizeof(text), "the \"%c\" opened here is not closed: is a \"%c\" missing?",
             bracket->sign, bracket->sign == '{' ? '}' : ']');
    return found_at(scan, bracket->line, bracket->column, text);
}

/* A bracket that closes nothing is a sign like any other in a plain text. */
static bool is_plain(const struct scan *scan, const char *c)
{
    while (c > scan->first && is_blank(c[-1]))
        c--;
    return scan->colons < 2 && c > scan->first && !strchr("}]\"'", c[-1]);
}

static bool take_bracket(struct scan *scan, const char *c)
{
    char text[TROUBLE_TEXT_MAX];
    if (*c == '{' || *c == '[') {
        if (scan->count < OPEN_MAX)
            scan->open[scan->count++] = (struct bracket){.line = scan->line,
                                                         .column = (int)(c - scan->at) + 1,
                                                         .indent = (int)(scan->first - scan->at),
                                                         .sign = *c};
        return false;
    }
    if (scan->count > 0 && (scan->open[scan->count - 1].sign == '{') == (*c == '}')) {
        scan->count--;
        return false;
    }
    if (scan->count > 0)
        return found_open(scan);
    if (is_plain(scan, c))
        return false;
    if (found_bare(scan, &scan->newest)) /* "output {...}" is one text */
        return true;
    snprintf(text, sizeof(text),
             "this \"%c\" closes nothing: is it one too many, or a \"%c\" missing?", *c,
             *c == '}' ? '{' : '[');
    return found(scan, c, text);
}

/* In braces a second colon begins another setting. */
static bool take_colon(struct scan *scan, const char *c)
{
    struct bracket *bracket = &scan->open[scan->count - 1];
    const char *word = c;
    char text[TROUBLE_TEXT_MAX];
    while (word > scan->at && is_word(word[-1]))
        word--;
    if (!bracket->colon || word == c) {
        bracket->colon = true;
        return false;
    }
    snprintf(text, sizeof(text), "is a comma missing before \"%.*s\"?", word_length(word, c), word);
    return found(scan, word, text);
}

/* ---- one line -------------------------------------------------------------------------------- */

static bool spaced(const struct scan *scan, const char *c)
{
    return c + 1 == scan->end || is_blank(c[1]);
}

/* Whether a value begins after the sign at `c`: there a quote is one. */
static bool opens_value(const struct scan *scan, const char *c)
{
    return (*c == ':' && spaced(scan, c)) || (*c == '-' && c == scan->first && spaced(scan, c)) ||
           (scan->count > 0 && strchr("{[,", *c));
}

static bool take_sign(struct scan *scan, const char *c, bool begins)
{
    if (strchr("}]", *c) || (strchr("{[", *c) && (begins || scan->count > 0)))
        return take_bracket(scan, c);
    if (*c == ':' && spaced(scan, c)) {
        scan->colons += scan->count == 0;
        return scan->count > 0 && take_colon(scan, c);
    }
    if (*c == ',' && scan->count > 0)
        scan->open[scan->count - 1].colon = false;
    return false;
}

static bool scan_signs(struct scan *scan)
{
    bool begins = true;
    for (const char *c = scan->first; c < scan->end; c++) {
        if (is_blank(*c))
            continue;
        if (*c == '#' && (c == scan->first || is_blank(c[-1])))
            return false;
        if (begins && (*c == '"' || *c == '\'')) {
            const char *closing = closing_quote(c, scan->end);
            if (!closing)
                return found(scan, c, "the quote opened here is not closed: is one missing?");
            if (after_quote(scan, c, closing))
                return true;
            c = closing;
            begins = false;
            continue;
        }
        if (take_sign(scan, c, begins))
            return true;
        begins = opens_value(scan, c);
    }
    return false;
}

/* True: this line is the one. */
static bool scan_line(struct scan *scan)
{
    scan->first = skip_blanks(scan->at, scan->end);
    if (scan->first == scan->end || *scan->first == '#')
        return false;
    if (scan->count > 0 && !strchr("}]", *scan->first) &&
        scan->first - scan->at <= scan->open[scan->count - 1].indent)
        return found_open(scan);
    scan->colons = 0;
    scan->before = scan->newest;
    scan->newest = scan->count > 0 ? (struct bare){.word = NULL} : bare_of(scan);
    return scan_signs(scan);
}

bool punctuation_find(const char *bytes, size_t size, size_t given_up, bool wants_colon,
                      struct indent_finding *finding)
{
    struct scan scan = {.finding = finding};
    const char *at = bytes, *end = bytes + size;
    for (size_t line = 0; line <= given_up && at < end; line++) {
        const char *feed = memchr(at, '\n', (size_t)(end - at));
        scan.at = at;
        scan.end = feed ? feed : end;
        scan.line = (int)line + 1;
        if (scan_line(&scan))
            return true;
        at = feed ? feed + 1 : end;
    }
    if (wants_colon && (found_bare(&scan, &scan.before) || found_bare(&scan, &scan.newest)))
        return true;
    return scan.count > 0 && at == end && found_open(&scan);
}
