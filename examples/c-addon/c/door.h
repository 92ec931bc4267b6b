/* The little that differs between a board and the host. */
#ifndef DOOR_H
#define DOOR_H
#include <stddef.h>

/* Reads from the recording that the run was given; how many bytes. Opens it at the first call. */
size_t door_read(void *to, size_t bytes);
void door_print(const char *text);
/* What the program itself is. */
int run(void);
#endif
