/* xml.c - expat does the parsing; what it would keep without end is bounded here. */
#include "days/xml.h"

#include <errno.h>
#include <expat.h>
#include <fcntl.h>
#include <string.h>
#include <unistd.h>

#include "days/report.h"

enum { BLOCK = 1 << 16, TAG_MAX = 1 << 20 };

struct parse {
    XML_Parser parser;
    const struct days_xml_reader *reader;
    void *context;
    const char *path;
    struct days_report *report;
    int depth;
    char text[DAYS_XML_TEXT_MAX];
    size_t used;
    bool ended; /* a stop, or the reader wants no more */
};

static size_t line_of(const struct parse *parse)
{
    return (size_t)XML_GetCurrentLineNumber(parse->parser);
}

static void end_with(struct parse *parse, const char *why)
{
    if (why)
        days_stop(parse->report, parse->path, line_of(parse), "%s", why);
    parse->ended = true;
    XML_StopParser(parse->parser, XML_FALSE);
}

static const char *without_prefix(const char *name)
{
    const char *colon = strrchr(name, ':');
    return colon ? colon + 1 : name;
}

static void begin_element(void *data, const char *name, const char **attributes)
{
    struct parse *parse = data;
    parse->used = 0;
    if (parse->ended)
        return;
    if (++parse->depth > DAYS_XML_DEPTH_MAX)
        end_with(parse, "elements within elements, over 64 deep: no file of meter data");
    else if (!parse->reader->begin(parse->context, without_prefix(name),
                                   (const char *const *)attributes, line_of(parse)))
        end_with(parse, NULL);
}

static bool is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '\n' || c == '\r';
}

static const char *trimmed(struct parse *parse)
{
    size_t from = 0;
    while (parse->used > 0 && is_blank(parse->text[parse->used - 1]))
        parse->used--;
    parse->text[parse->used] = '\0';
    while (is_blank(parse->text[from]))
        from++;
    return parse->text + from;
}

static void end_element(void *data, const char *name)
{
    struct parse *parse = data;
    if (parse->ended)
        return;
    parse->depth--;
    if (!parse->reader->end(parse->context, without_prefix(name), trimmed(parse), line_of(parse)))
        end_with(parse, NULL);
    parse->used = 0;
}

static void take_text(void *data, const char *text, int length)
{
    struct parse *parse = data;
    for (; parse->used == 0 && length > 0 && is_blank(*text); text++)
        length--;
    size_t room = sizeof(parse->text) - 1 - parse->used;
    size_t taken = (size_t)length < room ? (size_t)length : room;
    memcpy(parse->text + parse->used, text, taken);
    parse->used += taken;
}

static void refuse_doctype(void *data, const char *name, const char *system, const char *public,
                           int internal)
{
    (void)name;
    (void)system;
    (void)public;
    (void)internal;
    end_with(data, "a document type (<!DOCTYPE): meter data have none, and it may hide entities "
                   "that grow without end");
}

static void tell_mistake(struct parse *parse)
{
    enum XML_Error error = XML_GetErrorCode(parse->parser);
    bool cut = error == XML_ERROR_NO_ELEMENTS || error == XML_ERROR_UNCLOSED_TOKEN ||
               error == XML_ERROR_PARTIAL_CHAR || error == XML_ERROR_UNCLOSED_CDATA_SECTION;
    days_stop(parse->report, parse->path, line_of(parse), "XML: %s%s", XML_ErrorString(error),
              cut ? ": is the file cut off?" : "");
    parse->ended = true;
}

/* What expat has been given and not yet made elements of. */
static bool holds_too_much(const struct parse *parse, int64_t fed)
{
    int64_t at = XML_GetCurrentByteIndex(parse->parser);
    return at >= 0 && fed - at > TAG_MAX;
}

static void read_blocks(struct parse *parse, int file)
{
    int64_t fed = 0;
    ssize_t got = 1;
    while (got > 0 && !parse->ended) {
        void *block = XML_GetBuffer(parse->parser, BLOCK);
        got = block ? read(file, block, BLOCK) : -1;
        if (got < 0) {
            days_stop(parse->report, parse->path, 0, "cannot be read: %s",
                      block ? strerror(errno) : "out of memory");
            parse->ended = true;
            return;
        }
        fed += got;
        if (XML_ParseBuffer(parse->parser, (int)got, got == 0) == XML_STATUS_ERROR && !parse->ended)
            tell_mistake(parse);
        else if (!parse->ended && got > 0 && holds_too_much(parse, fed))
            end_with(parse, "a tag of over a megabyte: no file of meter data");
    }
}

bool days_xml_read(const char *path, const struct days_xml_reader *reader, void *context,
                   struct days_report *report)
{
    struct parse parse = {.reader = reader, .context = context, .path = path, .report = report};
    int file = open(path, O_RDONLY | O_CLOEXEC);
    parse.parser = file >= 0 ? XML_ParserCreate(NULL) : NULL;
    if (!parse.parser) {
        days_stop(report, path, 0, "cannot be read: %s",
                  file < 0 ? strerror(errno) : "out of memory");
        if (file >= 0)
            close(file);
        return false;
    }
    XML_SetUserData(parse.parser, &parse);
    XML_SetElementHandler(parse.parser, begin_element, end_element);
    XML_SetCharacterDataHandler(parse.parser, take_text);
    XML_SetStartDoctypeDeclHandler(parse.parser, refuse_doctype);
    read_blocks(&parse, file);
    XML_ParserFree(parse.parser);
    close(file);
    return !parse.ended;
}
