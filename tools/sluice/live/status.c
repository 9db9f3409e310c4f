/* status.c - what the daemon does right now: a screen for people, or its own JSON
 * as it came, for scripts. */
#include <cjson/cJSON.h>
#include <stdio.h>
#include <stdlib.h>

#include "control.h"
#include "screen.h"
#include "sluice/options.h"

static enum status print_screen(const char *answer, bool colour)
{
    cJSON *status = cJSON_Parse(answer);
    bool is_status = cJSON_IsArray(cJSON_GetObjectItemCaseSensitive(status, "loads"));
    if (is_status)
        screen_print(status, colour);
    cJSON_Delete(status);
    if (is_status)
        return STATUS_DONE;
    return complain(STATUS_NOT_THERE, "\"%.80s\" is not a status of sluiced", answer);
}

enum status status_main(struct invocation *at, int argc, char *argv[])
{
    bool json = false;
    const struct option_row rows[] = {{"--json", NULL, &json, NULL}, {0}};
    struct trouble trouble;
    int words = options_read(at, rows, argc, argv);
    if (words < 0)
        return options_status(words);
    if (words != 0)
        return complain_usage(at, "status");
    char *answer = control_ask(at->socket, "status", &trouble);
    if (!answer)
        return complain(STATUS_NOT_THERE, "%s", trouble.text);
    enum status status = STATUS_DONE;
    if (json)
        puts(answer);
    else
        status = print_screen(answer, at->colour);
    free(answer);
    return status;
}
