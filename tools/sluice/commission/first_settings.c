/* first_settings.c - each question is the text of the setting's own row, which becomes its comment
 * in the file; the meter's sections are those that `sluice bus` prints. */
#include "first_settings.h"

#include <errno.h>
#include <fcntl.h>
#include <spawn.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include "core/text.h"
#include "settings/settings.h"

enum { ANSWER_SIZE = 128, FOUND_SIZE = 16384, PATH_SIZE = 4096, ROWS_MAX = 24 };

extern char **environ;

struct writing {
    const struct asking *asking;
    FILE *to;
    bool ended; /* the input */
    const char *explained[ROWS_MAX];
    int explained_count;
};

/* ---- a setting ------------------------------------------------------------------------------ */

/* "  written  a current": what follows the text of a row. */
static bool is_field(const char *line)
{
    size_t word = strspn(line + 2, "abcdefghijklmnopqrstuvwxyz");
    return word > 0 && strncmp(line + 2 + word, "  ", 2) == 0;
}

/* The row's text on one line. */
static void text_of_row(const char *path, struct text *text)
{
    char *said = NULL;
    size_t size = 0;
    FILE *to = open_memstream(&said, &size);
    if (!to)
        return;
    bool known = settings_explain(path, NULL, to);
    fclose(to);
    char *rest = said, *line = strsep(&rest, "\n"); /* its name */
    while (known && (line = strsep(&rest, "\n")) && strncmp(line, "  ", 2) == 0 && !is_field(line))
        text_add(text, "%s%s", text->used > 0 ? " " : "", line + strspn(line, " "));
    free(said);
}

static void put_comment(struct writing *writing, int indent, const char *comment)
{
    enum { WIDTH = 90 };
    while (*comment) {
        size_t length = strlen(comment), most = (size_t)(WIDTH - indent);
        for (length = length > most ? most : length;
             comment[length] && length > 1 && comment[length] != ' ';)
            length--;
        fprintf(writing->to, "%*s# %.*s\n", indent, "", (int)length, comment);
        comment += length;
        comment += strspn(comment, " ");
    }
}

/* In quotes, so that whatever was typed is one value. */
static void put_quoted(struct writing *writing, const char *value)
{
    fputc('"', writing->to);
    for (; *value; value++) {
        if (*value == '"' || *value == '\\')
            fputc('\\', writing->to);
        fputc((unsigned char)*value < ' ' ? '?' : *value, writing->to);
    }
    fputs("\"\n", writing->to);
}

/* Asks until there is an answer, where `usual` is none. False: the input has ended. */
static bool ask_value(struct writing *writing, const char *question, const char *usual,
                      char answer[static ANSWER_SIZE])
{
    char whole[1024];
    struct text text = text_in(whole, sizeof(whole));
    text_add(&text, "%s", question);
    if (*usual)
        text_add(&text, " [%s]", usual);
    do {
        *answer = '\0';
        writing->ended |= !ask_line(writing->asking, whole, answer, ANSWER_SIZE);
        if (!*answer)
            snprintf(answer, ANSWER_SIZE, "%s", usual);
    } while (!*answer && !writing->ended);
    return !writing->ended;
}

/* A setting is explained where it first stands. */
static bool is_explained(struct writing *writing, const char *path)
{
    for (int k = 0; k < writing->explained_count; k++)
        if (strcmp(writing->explained[k], path) == 0)
            return true;
    if (writing->explained_count < ROWS_MAX)
        writing->explained[writing->explained_count++] = path;
    return false;
}

/* A list stays one; anything else is one value. */
static void put_value(struct writing *writing, const char *value)
{
    if (*value == '[')
        fprintf(writing->to, "%s\n", value);
    else
        put_quoted(writing, value);
}

/* The setting at `path`, asked by its own text and written with it. */
static void write_asked(struct writing *writing, const char *path, const char *usual)
{
    char comment[1024] = "", question[1100], answer[ANSWER_SIZE];
    struct text text = text_in(comment, sizeof(comment));
    const char *key = strrchr(path, '.') + 1;
    int indent = 0;
    for (const char *at = path; *at; at++)
        indent += *at == '.' ? 2 : 0;
    if (!is_explained(writing, path))
        text_of_row(path, &text);
    snprintf(question, sizeof(question), "%s: %s", key, comment);
    if (writing->ended || !ask_value(writing, question, usual, answer))
        return;
    put_comment(writing, indent, comment);
    fprintf(writing->to, "%*s%s: ", indent, "", key);
    put_value(writing, answer);
}

static bool agrees(struct writing *writing, enum answer usual, const char *question)
{
    enum answer answer = writing->ended ? ANSWER_QUIT : ask_yes(writing->asking, usual, question);
    writing->ended |= answer == ANSWER_QUIT;
    return answer == ANSWER_YES;
}

/* ---- site -------------------------------------------------------------------------------------
 */

static void write_site(struct writing *writing)
{
    char zone[PATH_SIZE] = "";
    ssize_t length = readlink("/etc/localtime", zone, sizeof(zone) - 1);
    zone[length > 0 ? length : 0] = '\0';
    const char *of = strstr(zone, "zoneinfo/");
    fputs("site:\n", writing->to);
    write_asked(writing, "site.name", "House");
    write_asked(writing, "site.timezone", of ? of + strlen("zoneinfo/") : "");
    bool three = agrees(writing, ANSWER_NO, "Has the supply three phases?");
    fprintf(writing->to, "  phases: %d\n", three ? 3 : 1);
    if (three)
        fprintf(writing->to, "  billing: %s\n",
                agrees(writing, ANSWER_NO,
                       "Does the retailer net the phases, so that what one exports another may "
                       "use? If it is not known, no: each phase then counts by itself.")
                    ? "net"
                    : "per_phase");
    write_asked(writing, "site.supply_limit", "");
}

/* ---- the meter ----------------------------------------------------------------------------------
 */

/* `sluice bus ...` with what it prints; what it complains of is seen. False: it did not go well. */
static bool run_bus(const char *what, const char *port, const char *maps,
                    char found[static FOUND_SIZE])
{
    const char *const scan[] = {"sluice", "bus", "scan", port, "--maps", maps, NULL};
    const char *const listen[] = {"sluice", "bus",    "listen", port, "--for",
                                  "60 s",   "--maps", maps,     NULL};
    const char *const *words = strcmp(what, "scan") == 0 ? scan : listen;
    posix_spawn_file_actions_t actions;
    int ends[2], status = -1;
    size_t used = 0;
    pid_t child;
    if (pipe2(ends, O_CLOEXEC) != 0)
        return false;
    posix_spawn_file_actions_init(&actions);
    posix_spawn_file_actions_adddup2(&actions, ends[1], STDOUT_FILENO);
    posix_spawn_file_actions_addclose(&actions, ends[0]);
    bool begun =
        posix_spawn(&child, "/proc/self/exe", &actions, NULL, (char *const *)words, environ) == 0;
    posix_spawn_file_actions_destroy(&actions);
    close(ends[1]);
    for (ssize_t count = 1; begun && count > 0 && used < FOUND_SIZE - 1; used += (size_t)count)
        if ((count = read(ends[0], found + used, FOUND_SIZE - 1 - used)) < 0)
            break;
    found[used] = '\0';
    close(ends[0]);
    while (begun && waitpid(child, &status, 0) < 0 && errno == EINTR)
        continue;
    return begun && WIFEXITED(status) && WEXITSTATUS(status) == 0;
}

/* The sections in what was printed; NULL: there are none. */
static char *sections_in(char *found)
{
    char *at = strncmp(found, "buses:\n", 7) == 0 ? found : strstr(found, "\nbuses:\n");
    if (!at || !strstr(at, "\nmeters:\n"))
        return NULL;
    return *at == '\n' ? at + 1 : at;
}

static char *look_for_meter(struct writing *writing, const char *port, const char *maps,
                            char found[static FOUND_SIZE])
{
    if (!agrees(
            writing, ANSWER_YES,
            "Look for the meter on that line now? First it is listened to; nothing is written."))
        return NULL;
    if (run_bus("scan", port, maps, found))
        return sections_in(found);
    if (!agrees(writing, ANSWER_NO, "Does another master poll there, to be listened to for 60 s?"))
        return NULL;
    return run_bus("listen", port, maps, found) ? sections_in(found) : NULL;
}

static void write_other_board(struct writing *writing)
{
    fputs("  board:\n", writing->to);
    write_asked(writing, "buses.NAME.port", "");
    write_asked(writing, "buses.NAME.baud", "9600");
    write_asked(writing, "buses.NAME.parity", "none");
}

/* Returns the name of the bus on which the relay board is. */
static const char *write_lines(struct writing *writing, const char *maps)
{
    static char found[FOUND_SIZE];
    char port[ANSWER_SIZE] = "";
    if (!ask_value(writing, "Serial device of the meter's line, such as /dev/sluice-meter:", "",
                   port))
        return "";
    char *sections = look_for_meter(writing, port, maps, found);
    char *meters = sections ? strstr(sections, "\nmeters:\n") + 1 : NULL;
    bool same = agrees(writing, ANSWER_YES, "Is the relay board on the same wires as the meter?");
    if (sections) {
        fprintf(writing->to, "# As it was found on the line.\n%.*s", (int)(meters - sections),
                sections);
    } else {
        fputs("buses:\n  meter:\n    port: ", writing->to);
        put_quoted(writing, port);
        write_asked(writing, "buses.NAME.baud", "9600");
        write_asked(writing, "buses.NAME.parity", "none");
    }
    if (!same)
        write_other_board(writing);
    if (sections) {
        fputs(meters, writing->to);
    } else {
        fputs("meters:\n  grid:\n    role: grid\n    bus: meter\n", writing->to);
        write_asked(writing, "meters.NAME.unit", "1");
        write_asked(writing, "meters.NAME.map", "");
    }
    return same ? "meter" : "board";
}

/* ---- loads
 * ---------------------------------------------------------------------------------------- */

static void write_load(struct writing *writing, const char *name, const char *board, int address)
{
    char usual[16];
    fprintf(writing->to, "  %s:\n", name);
    write_asked(writing, "loads.NAME.power", "");
    write_asked(writing, "loads.NAME.phases", "L1");
    bool heater =
        agrees(writing, ANSWER_YES, "Is it a storage water heater with a thermostat of its own?");
    if (heater)
        fputs("    thermostat: yes\n", writing->to);
    else if (agrees(writing, ANSWER_NO, "Has it a motor?"))
        fputs("    motor: yes\n", writing->to);
    if (heater)
        fputs("    # Against Legionella: the whole tank hot, once a week. Store at 60 \u00b0C or "
              "above,\n    # with a tempering valve at the outlets, as the local code asks.\n"
              "    floors:\n      - {measure: satisfied, amount: 5 h, every_days: 7, by: "
              "\"17:00\"}\n",
              writing->to);
    fprintf(writing->to, "    output:\n      kind: coil\n      bus: %s\n", board);
    write_asked(writing, "loads.NAME.output.unit", "10");
    snprintf(usual, sizeof(usual), "%d", address);
    write_asked(writing, "loads.NAME.output.address", usual);
}

static void write_loads(struct writing *writing, const char *board)
{
    char name[SETTINGS_NAME_MAX];
    fputs("loads:\n", writing->to);
    for (int k = 0; k < SETTINGS_LOADS_MAX && !writing->ended; k++) {
        const char *question = k == 0 ? "A name for the first load (a-z, 0-9, hyphens), such as "
                                        "water-heater:"
                                      : "A name for the next load (Enter: no more):";
        writing->ended |= !ask_line(writing->asking, question, name, sizeof(name));
        if (!*name || writing->ended)
            break;
        write_load(writing, name, board, k);
    }
}

/* ---- the file
 * -------------------------------------------------------------------------------------- */

static void write_file(struct writing *writing, const char *maps)
{
    fputs("# Written by \"sluice commission --new\" from answers and from what was found on the "
          "line.\n# \"sluice example\" shows every setting there is; \"sluice explain KEY\" says "
          "more of one.\n# Off is not isolation: isolate all supplies and prove dead.\n",
          writing->to);
    write_site(writing);
    const char *board = write_lines(writing, maps);
    write_loads(writing, board);
}

/* As sluiced would: with each error's place, in the file as it would be. */
static bool is_accepted(const char *written, const char *maps)
{
    struct settings_troubles troubles = {0};
    struct settings *settings = settings_load(written, maps, NULL, &troubles);
    for (int k = 0; k < troubles.count; k++)
        fprintf(stderr, "%s: %s\n", troubles.item[k].place, troubles.item[k].text);
    settings_troubles_free(&troubles);
    settings_free(settings);
    return settings != NULL;
}

static enum status put_in_place(const char *beside, const char *path)
{
    char old[PATH_SIZE + 8];
    snprintf(old, sizeof(old), "%s.old", path);
    if (access(path, F_OK) == 0 && rename(path, old) != 0)
        return complain(STATUS_NOT_THERE, "\"%s\" cannot be kept as \"%s\": %m", path, old);
    if (rename(beside, path) != 0)
        return complain(STATUS_NOT_THERE, "\"%s\" cannot be written: %m", path);
    printf("%s\n", path);
    return STATUS_DONE;
}

static bool may_replace(struct writing *writing, const char *path)
{
    char question[PATH_SIZE + 80];
    if (access(path, F_OK) != 0)
        return true;
    snprintf(question, sizeof(question), "%s is there already. Replace it, and keep it as .old?",
             path);
    return agrees(writing, ANSWER_NO, question);
}

enum status first_settings(const struct asking *asking, const char *path, const char *maps)
{
    char beside[PATH_SIZE + 16], folder[PATH_SIZE];
    const char *slash = strrchr(path, '/');
    struct writing writing = {.asking = asking};
    snprintf(beside, sizeof(beside), "%s.new", path);
    snprintf(folder, sizeof(folder), "%.*smeters", slash ? (int)(slash + 1 - path) : 0, path);
    maps = maps ? maps : folder;
    if (!may_replace(&writing, path))
        return complain(STATUS_REFUSED, "\"%s\" is left as it is", path);
    writing.to = fopen(beside, "we");
    if (!writing.to)
        return complain(STATUS_NOT_THERE, "\"%s\" cannot be written: %m", beside);
    write_file(&writing, maps);
    bool whole = !ferror(writing.to);
    whole = fflush(writing.to) == 0 && fsync(fileno(writing.to)) == 0 && whole;
    whole = fclose(writing.to) == 0 && whole;
    if (writing.ended || !whole) {
        unlink(beside);
        return complain(STATUS_REFUSED, "%s: no settings were written",
                        writing.ended ? "ended before it was whole" : "the disk did not take it");
    }
    if (!is_accepted(beside, maps))
        return complain(STATUS_REFUSED,
                        "sluiced would reject that: it is kept as \"%s\" to be put right, and "
                        "\"%s\" is as it was",
                        beside, path);
    return put_in_place(beside, path);
}
