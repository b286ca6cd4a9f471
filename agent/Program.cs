using Cardassay.Agent.Commands;

return await CommandLine.RunAsync(args);
