export const jobs = {
  title: 'Work',
};
