/** Where in the input the fault is and how to mend it. `row` counts as an editor does: the header is row 1. */
export interface InputFault {
  readonly file: string;
  readonly row?: number;
  readonly field?: string;
  readonly found: string;
  readonly expected: string;
  readonly todo: string;
}

/** Bad input from outside. Never for our own mistakes, and never for outcomes that a survey has to expect. */
export class InputError extends Error {
  readonly fault: InputFault;

  constructor(fault: InputFault) {
    const place = [fault.file, fault.row === undefined ? '' : `row ${fault.row}`, fault.field ?? ''].filter(
      (s) => s !== '',
    );
    super(`${place.join(', ')}: found ${fault.found}, expected ${fault.expected}. ${fault.todo}`);
    this.name = 'InputError';
    this.fault = fault;
  }
}
