/* log.h - lines to standard error, with the priority prefix that the journal
 * reads (sd-daemon(3): "<3>"). The level is the program's only global. */
#ifndef SLUICE_LOOP_LOG_H
#define SLUICE_LOOP_LOG_H

enum log_level {
    LOG_LEVEL_ERROR = 3,
    LOG_LEVEL_WARNING = 4,
    LOG_LEVEL_NOTICE = 5,
    LOG_LEVEL_INFO = 6,
    LOG_LEVEL_DEBUG = 7
};

void log_set_level(enum log_level level);
void log_line(enum log_level level, const char *format, ...) __attribute__((format(printf, 2, 3)));

#endif
