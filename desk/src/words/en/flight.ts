export const flight = {
  title: 'Flight',
};
