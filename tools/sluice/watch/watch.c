/* watch.c - `sluice watch`: asks the daemon every other second, draws what has changed, and takes
 * keys as orders. */
#include "watch.h"

#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "core/text.h"
#include "scene.h"
#include "sluice/live/control.h"
#include "sluice/live/say.h"
#include "sluice/options.h"
#include "sluice/page/show.h"
#include "sluice/setup/read_settings.h"
#include "strip.h"
#include "terminal.h"

const char watch_help[] =
    "Power flows, each load with its state, reason and guarantee, today's runs, and\n"
    "what is wrong; every other second, and only what has changed is sent.\n"
    "Keys: o runs the marked load for a time, f keeps it off, a back to automatic,\n"
    "r shows all of it, ? helps, q leaves. Works on 40 columns and without colour.\n"
    "\n"
    "  --settings FILE  name the ledger of today's runs; /etc/sluice/sluice.yaml\n"
    "  --maps DIR       the register maps that the settings name\n";

enum { ASK_MS = 2000, ASKS_PER_STRIP = 30, TYPED_MAX = 40, NAME_MAX_BYTES = 64 };

struct watch {
    const char *socket;
    struct terminal *terminal;
    struct settings *settings; /* NULL: none to be read */
    cJSON *status;
    struct strip strip;
    struct scene scene;
    struct frame shown, next;
    bool drawn;
    int asks;
    int64_t asked_ms;
    char typed[TYPED_MAX];
    const char *verb;          /* of the order that is being typed; NULL: none is */
    char load[NAME_MAX_BYTES]; /* the marked one, by its name: a reload may move it */
    char prompt[NAME_MAX_BYTES + 60];
};

/* ---- what is there -----------------------------------------------------------------------------
 */

static int64_t now_ms(void)
{
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * MS_PER_S + now.tv_nsec / 1000000;
}

/* An old picture must not pass for a new one: it says of when it is. */
static void say_gone(struct watch *watch, const char *why)
{
    struct text text = text_in(watch->scene.trouble, sizeof(watch->scene.trouble));
    text_add(&text, "%s", why);
    if (watch->status) {
        text_add(&text, ". The figures below are from ");
        say_date_and_time(&text, words(watch->status, "time"));
    }
}

static void read_strip(struct watch *watch)
{
    char date[11];
    struct text text = text_in(date, sizeof(date));
    text_add(&text, "%.10s", words(watch->status, "time"));
    strip_read(&watch->strip, watch->settings, date);
}

static void mark(struct watch *watch, int index)
{
    struct text text = text_in(watch->load, sizeof(watch->load));
    watch->scene.selected = index;
    text_add(&text, "%s", scene_load_name(&watch->scene, index));
}

static void end_typing(struct watch *watch)
{
    watch->verb = NULL;
    watch->scene.prompt = NULL;
}

/* A load that has gone takes the order with it that was being typed for it. */
static void find_marked(struct watch *watch)
{
    int count = scene_loads(&watch->scene);
    for (int k = 0; k < count; k++)
        if (strcmp(scene_load_name(&watch->scene, k), watch->load) == 0) {
            watch->scene.selected = k;
            return;
        }
    end_typing(watch);
    mark(watch, 0);
}

static void ask(struct watch *watch)
{
    struct trouble trouble;
    watch->asked_ms = now_ms();
    cJSON *status = control_status(watch->socket, &trouble);
    if (!status) {
        say_gone(watch, trouble.text);
        return;
    }
    cJSON_Delete(watch->status);
    watch->scene.status = watch->status = status;
    watch->scene.trouble[0] = '\0';
    find_marked(watch);
    if (watch->asks++ % ASKS_PER_STRIP == 0)
        read_strip(watch);
}

static void draw(struct watch *watch)
{
    char *bytes = NULL;
    size_t size = 0;
    FILE *to = open_memstream(&bytes, &size);
    if (!to)
        return;
    terminal_size(&watch->scene.columns, &watch->scene.rows);
    if (watch->scene.rows > FRAME_ROWS)
        watch->scene.rows = FRAME_ROWS;
    scene_draw(&watch->scene, &watch->next);
    frame_draw(watch->drawn ? &watch->shown : NULL, &watch->next, watch->scene.rows, to);
    fclose(to);
    terminal_write(bytes, size);
    free(bytes);
    watch->shown = watch->next;
    watch->drawn = true;
}

/* ---- orders ------------------------------------------------------------------------------------
 */

static void answer(struct watch *watch, const char *text)
{
    struct text message = text_in(watch->scene.message, sizeof(watch->scene.message));
    text_add(&message, "%s", text);
}

static void order(struct watch *watch, const char *verb, const char *end)
{
    char request[NAME_MAX_BYTES + TYPED_MAX + 20];
    struct trouble trouble;
    struct text text = text_in(request, sizeof(request));
    text_add(&text, "order %s %s%s%s", watch->load, verb, *end ? " " : "", end);
    char *said = text.full ? NULL : control_ask(watch->socket, request, &trouble);
    cJSON *root = said ? cJSON_Parse(said) : NULL;
    if (root)
        answer(watch, words(root, "text"));
    else
        answer(watch, said || text.full ? "no answer from sluiced" : trouble.text);
    cJSON_Delete(root);
    free(said);
    ask(watch);
}

static void begin_typing(struct watch *watch, const char *verb)
{
    struct text text = text_in(watch->prompt, sizeof(watch->prompt));
    bool on = strcmp(verb, "on") == 0;
    text_add(&text, "%s %s for (%s): ", watch->load, verb,
             on ? "2 h, until 17:00" : "empty: no end time");
    watch->verb = verb;
    watch->typed[0] = '\0';
    watch->scene.prompt = watch->prompt;
    watch->scene.typed = watch->typed;
    watch->scene.message[0] = '\0';
}

static void type(struct watch *watch, int key)
{
    size_t length = strlen(watch->typed);
    if (key == '\n' || key == '\r') {
        const char *verb = watch->verb;
        end_typing(watch);
        order(watch, verb, watch->typed);
    } else if (key == KEY_ESCAPE) {
        end_typing(watch);
    } else if ((key == 0x7f || key == '\b') && length > 0) {
        watch->typed[length - 1] = '\0';
    } else if (key >= ' ' && key < 0x7f && length + 1 < sizeof(watch->typed)) {
        watch->typed[length] = (char)key;
        watch->typed[length + 1] = '\0';
    }
}

/* ---- keys --------------------------------------------------------------------------------------
 */

static void move(struct watch *watch, int by)
{
    int count = scene_loads(&watch->scene);
    if (count > 0)
        mark(watch, (watch->scene.selected + by + count) % count);
}

static bool is_order(int key)
{
    return key == 'o' || key == 'f' || key == 'a';
}

/* False: leave. */
static bool obey(struct watch *watch, int key)
{
    if (key == 'q')
        return false;
    if (watch->scene.view == VIEW_HELP || (watch->scene.view == VIEW_LOAD && !is_order(key))) {
        watch->scene.view = VIEW_HOUSE;
        return true;
    }
    if (key == '?')
        watch->scene.view = VIEW_HELP;
    else if (key == KEY_UP)
        move(watch, -1);
    else if (key == KEY_DOWN || key == '\t')
        move(watch, 1);
    else if (scene_loads(&watch->scene) == 0)
        return true;
    else if (key == 'r')
        watch->scene.view = VIEW_LOAD;
    else if (key == 'o')
        begin_typing(watch, "on");
    else if (key == 'f')
        begin_typing(watch, "off");
    else if (key == 'a')
        order(watch, "auto", "");
    return true;
}

/* ---- the loop ----------------------------------------------------------------------------------
 */

static void run(struct watch *watch)
{
    for (bool goes_on = true; goes_on;) {
        draw(watch);
        int64_t left_ms = watch->asked_ms + ASK_MS - now_ms();
        int key = terminal_key(watch->terminal, left_ms > 0 ? (int)left_ms : 0);
        if (key == KEY_END)
            return;
        if (now_ms() - watch->asked_ms >= ASK_MS)
            ask(watch);
        if (key == KEY_NONE)
            continue;
        if (key == KEY_REDRAW)
            watch->drawn = false;
        else if (watch->verb)
            type(watch, key);
        else
            goes_on = obey(watch, key);
    }
}

enum status watch_main(struct invocation *at, int argc, char *argv[])
{
    const char *settings = SETTINGS_DEFAULT, *maps = NULL;
    const struct option_row rows[] = {{"--settings", &settings, NULL, "the settings file"},
                                      {"--maps", &maps, NULL, "the folder of the meter maps"},
                                      {0}};
    static struct watch watch; /* two screens: too large for some stacks */
    struct trouble trouble;
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words > 0)
        return complain_usage(at, "watch");
    watch.socket = at->socket;
    watch.scene.colour = at->colour;
    watch.scene.strip = &watch.strip;
    watch.settings = read_settings_if_sound(settings, maps);
    watch.terminal = terminal_open(&trouble);
    if (!watch.terminal) {
        if (watch.settings)
            settings_free(watch.settings);
        return complain(STATUS_USAGE, "%s", trouble.text);
    }
    ask(&watch);
    run(&watch);
    terminal_close(watch.terminal);
    cJSON_Delete(watch.status);
    if (watch.settings)
        settings_free(watch.settings);
    return STATUS_DONE;
}
