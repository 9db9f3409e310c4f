/* session.c - the status is asked for anew wherever a step looks. */
#include "session.h"

#include <time.h>

#include "sluice/live/control.h"
#include "sluice/live/say.h"
#include "sluice/live/test_run.h"

void session_stop(struct session *session, const char *format, ...)
{
    struct text text = text_in(session->why, sizeof(session->why));
    va_list arguments;
    va_start(arguments, format);
    text_add_list(&text, format, arguments);
    va_end(arguments);
    session->stopped = true;
}

bool session_look(struct session *session)
{
    struct trouble trouble;
    cJSON *status = control_status(session->socket, &trouble);
    if (!status) {
        session_stop(session, "%s", trouble.text);
        return false;
    }
    cJSON_Delete(session->status);
    session->status = status;
    return true;
}

bool session_wait(struct session *session)
{
    const struct timespec moment = {.tv_nsec = 250 * 1000000L};
    nanosleep(&moment, NULL);
    return session_look(session);
}

int64_t session_uptime_s(const struct session *session)
{
    int64_t uptime_s;
    number(session->status, "uptime_s", &uptime_s);
    return uptime_s;
}

struct patience session_patience(const struct session *session, int seconds)
{
    return (struct patience){.since_s = session_uptime_s(session), .seconds = seconds};
}

bool session_wait_on(struct session *session, struct patience *patience)
{
    enum { LOOKS_PER_S = 8 };
    if (session_uptime_s(session) - patience->since_s > patience->seconds ||
        ++patience->looks > patience->seconds * LOOKS_PER_S)
        return false;
    return session_wait(session);
}

const cJSON *session_load(const struct session *session, const char *name)
{
    const cJSON *load;
    cJSON_ArrayForEach(load, get(session->status, "loads")) if (is(load, "name", name)) return load;
    return NULL;
}

enum answer session_ask(struct session *session, enum answer usual, const char *question)
{
    enum answer answer = ask_yes(&session->asking, usual, question);
    if (answer == ANSWER_QUIT)
        session_stop(session, "ended on request");
    return answer;
}
