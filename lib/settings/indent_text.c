/* indent_text.c - why a text is no YAML: nearly always a line that begins a blank too early
 * or too late.
 *
 * The parser says where it gave up and in which state; people want to know which line to
 * move, and by how much. So the lines up to there are read again, with nothing but the keys
 * that are open at each: a line must begin where an open key does, or deeper where the key
 * above it still waits for its value. */
#include <stdio.h>
#include <string.h>

#include "indent.h"

enum { LEVELS_MAX = 2 * TREE_DEPTH_MAX + 2, KEY_SIZE = 40 };

/* An open key: the newest of its level. */
struct level {
    int indent, line; /* line from 1 */
    bool list;        /* the level of the hyphens */
    bool waits;       /* its value is still to come */
    char key[KEY_SIZE];
};

struct scan {
    struct level level[LEVELS_MAX];
    int count;
    int braces; /* of a value in braces that goes on in the next line */
    struct indent_finding *finding;
};

/* One line, without its end. */
struct content {
    const char *at;
    int length, indent, line;
    bool hyphen, tab;
};

static struct level *top(struct scan *scan)
{
    return &scan->level[scan->count - 1];
}

/* ---- one line ------------------------------------------------------------------------------- */

static struct content content_of(const char *line, int length, int number)
{
    struct content content = {.line = number};
    while (content.indent < length && line[content.indent] == ' ')
        content.indent++;
    content.at = line + content.indent;
    content.length = length - content.indent;
    content.tab = content.length > 0 && content.at[0] == '\t';
    content.hyphen =
        content.length > 0 && content.at[0] == '-' && (content.length == 1 || content.at[1] == ' ');
    return content;
}

static bool is_empty(const struct content *content)
{
    return content->length == 0 || content->at[0] == '#' ||
           (content->length == 1 && content->at[0] == '\r');
}

/* The length of the key that the content begins with; 0: with none. */
static int key_length(const struct content *content)
{
    int length = 0;
    while (length < content->length &&
           strchr("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_-",
                  content->at[length]))
        length++;
    return length < content->length && content->at[length] == ':' ? length : 0;
}

/* Where the value ends: before a comment and the blanks in front of it. Counts braces. */
static int value_end(const struct content *content, int *braces)
{
    char quote = '\0';
    int end = 0;
    for (int k = 0; k < content->length; k++) {
        char c = content->at[k];
        if (quote) {
            quote = c == quote ? '\0' : quote;
        } else if (c == '#' && k > 0 && content->at[k - 1] == ' ') {
            break;
        } else if ((c == '"' || c == '\'') && (k == 0 || strchr(" [{,", content->at[k - 1]))) {
            quote = c;
        } else {
            *braces += (c == '{' || c == '[') - (c == '}' || c == ']');
        }
        if (c != ' ' && c != '\r')
            end = k + 1;
    }
    return end;
}

/* ---- findings ------------------------------------------------------------------------------- */

static bool found(struct scan *scan, const struct content *content, const char *text)
{
    struct indent_finding *finding = scan->finding;
    finding->line = content->line;
    finding->column = content->indent + 1;
    snprintf(finding->text, sizeof(finding->text), "%s", text);
    return true;
}

static bool found_between(struct scan *scan, const struct content *content,
                          const struct level *wanted)
{
    char text[TROUBLE_TEXT_MAX];
    int length = key_length(content);
    snprintf(text, sizeof(text),
             "\"%.*s\" is indented by %d space%s, and \"%s\" above it (line %d) by %d: if they "
             "belong together, indent it by %d",
             length > KEY_SIZE ? KEY_SIZE : length, content->at, content->indent,
             content->indent == 1 ? "" : "s", wanted->key, wanted->line, wanted->indent,
             wanted->indent);
    return found(scan, content, text);
}

/* ---- the levels ------------------------------------------------------------------------------ */

static void push(struct scan *scan, int indent, bool list)
{
    if (scan->count < LEVELS_MAX)
        scan->count++;
    *top(scan) = (struct level){.indent = indent, .list = list};
}

static void note_key(struct scan *scan, const struct content *content)
{
    int length = key_length(content), braces = 0;
    struct level *level = top(scan);
    level->line = content->line;
    snprintf(level->key, sizeof(level->key), "%.*s", length, content->at);
    level->waits = length > 0 && value_end(content, &braces) == length + 1;
}

/* Closes what the line ends; true: it begins at no open level. */
static bool close_levels(struct scan *scan, const struct content *content)
{
    struct level deeper = *top(scan);
    while (scan->count > 0 && top(scan)->indent > content->indent) {
        deeper = *top(scan);
        scan->count--;
    }
    bool meets = scan->count > 0 && top(scan)->indent == content->indent;
    if (meets && top(scan)->list && !content->hyphen && scan->count > 1 &&
        scan->level[scan->count - 2].indent == content->indent)
        scan->count--; /* a list may stand as far left as its key */
    else if (meets && top(scan)->list && !content->hyphen)
        return found_between(scan, content, &deeper);
    if (meets)
        return false;
    bool nearer_above =
        scan->count > 0 && content->indent - top(scan)->indent < deeper.indent - content->indent;
    return found_between(scan, content, nearer_above ? top(scan) : &deeper);
}

/* Places a line that begins with a key or a hyphen; true: it fits nowhere. */
static bool place(struct scan *scan, const struct content *content)
{
    if (scan->count == 0)
        push(scan, content->indent, content->hyphen);
    else if (content->indent > top(scan)->indent && !top(scan)->waits)
        return found_between(scan, content, top(scan));
    else if (content->indent > top(scan)->indent)
        push(scan, content->indent, content->hyphen);
    else if (close_levels(scan, content))
        return true;
    if (content->hyphen && !top(scan)->list)
        push(scan, content->indent, true);
    return false;
}

static struct content after_hyphen(const struct content *content)
{
    int skip = 1;
    while (skip < content->length && content->at[skip] == ' ')
        skip++;
    return (struct content){.at = content->at + skip,
                            .length = content->length - skip,
                            .indent = content->indent + skip,
                            .line = content->line};
}

/* True: this line is the one. */
static bool scan_line(struct scan *scan, const struct content *content)
{
    if (is_empty(content))
        return false;
    if (content->tab && scan->braces <= 0)
        return found(scan, content, "a tab cannot indent: use spaces");
    bool goes_on = scan->braces > 0;
    value_end(content, &scan->braces);
    if (goes_on || (!content->hyphen && key_length(content) == 0))
        return false; /* the rest of a value */
    if (place(scan, content))
        return true;
    if (!content->hyphen) {
        note_key(scan, content);
        return false;
    }
    struct content inner = after_hyphen(content);
    top(scan)->line = content->line;
    top(scan)->waits = is_empty(&inner); /* its entry stands in the lines below */
    if (key_length(&inner) > 0) {
        push(scan, inner.indent, false);
        note_key(scan, &inner);
    }
    return false;
}

/* "power:3.6 kW" is no key, but one text. */
static bool lacks_blank(struct scan *scan, const struct content *line)
{
    struct content content = line->hyphen ? after_hyphen(line) : *line;
    int length = key_length(&content);
    char text[TROUBLE_TEXT_MAX];
    if (scan->braces > 0 || length == 0 || length + 1 >= content.length ||
        strchr(" \r\t/", content.at[length + 1]))
        return false;
    snprintf(text, sizeof(text), "put a space after the colon: \"%.*s: %.*s\"",
             length > KEY_SIZE ? KEY_SIZE : length, content.at,
             content.length - length - 1 > KEY_SIZE ? KEY_SIZE : content.length - length - 1,
             content.at + length + 1);
    return found(scan, &content, text);
}

bool indent_find(const char *bytes, size_t size, size_t given_up, struct indent_finding *finding)
{
    struct scan scan = {.finding = finding};
    const char *at = bytes, *end = bytes + size;
    for (size_t line = 0; line <= given_up && at < end; line++) {
        const char *feed = memchr(at, '\n', (size_t)(end - at));
        struct content content = content_of(at, (int)((feed ? feed : end) - at), (int)line + 1);
        if (scan.count == LEVELS_MAX)
            return false;
        if ((!is_empty(&content) && lacks_blank(&scan, &content)) || scan_line(&scan, &content))
            return true;
        at = feed ? feed + 1 : end;
    }
    return false;
}
